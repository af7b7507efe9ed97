import type { OrderJet } from '../../domain/jetting/orderJet.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { LineKind, Material, Method, Outlet, Phase } from '../../domain/words.js';
import { countText, dayText, quantityText, shareText } from '../../papers/printed.js';
import {
  FACT_TEXT,
  LINE_KIND_TEXT,
  MATERIAL_TEXT,
  METHOD_TEXT,
  OUTLET_TEXT,
  PHASE_TEXT,
} from '../../papers/wording.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { jetWords } from './jetWords.js';

/** The line or pit a task is done on. */
export function taskTarget({ line, pit }: Row): string {
  const l = line as Row | null;
  if (l !== null) {
    const kind = LINE_KIND_TEXT[l['kind'] as LineKind];
    return String(l['name']).toLowerCase() === kind ? kind : `${String(l['name'])} (${kind})`;
  }
  const p = pit as Row | null;
  if (p === null) return 'the site';
  return p['place'] === null ? 'pit' : `pit, ${String(p['place'])}`;
}

/**
 * What a crew must know of a task: how, on what, what was found last, what nobody has seen.
 *
 * @param points Access points of the site.
 */
export function taskPlan(house: House, task: Row, points: readonly Row[], units: UnitSystem): string[] {
  const line = task['line'] as Row | null;
  const plan = (task['plan'] ?? {}) as Record<string, unknown>;
  const jet = plan['jet'] as OrderJet | undefined;
  const entries = (plan['entries'] ?? []) as { accessPointId: string; runM: number }[];
  return [
    ...(jet === undefined
      ? planWords(plan, units)
      : jetWords(jet, Number(plan['lengthM']), entries, points, units)),
    ...(line === null ? [] : lineWords(house, line, units)),
    ...pitWords(task['pit'] as Row | null, units),
  ];
}

function lineWords(house: House, line: Row, units: UnitSystem): string[] {
  const [bore, length] = [line['bore_mm'], line['length_m']];
  const expected = line['occlusion'];
  const assumed = (line['assumed'] ?? []) as string[];
  return [
    [
      MATERIAL_TEXT[line['material'] as Material],
      typeof bore === 'number' ? quantityText(bore, 'bore', units) : 'bore unknown',
      typeof length === 'number' ? `${quantityText(length, 'length', units)} long` : 'length unknown',
    ].join(', '),
    line['outlet'] === 'unknown' ? null : `to: ${OUTLET_TEXT[line['outlet'] as Outlet]}`,
    line['under_slab'] === true ? 'under the slab' : null,
    line['perforated'] === true ? 'perforated' : null,
    lastReading(house, line['last_reading'] as Row | null),
    typeof expected === 'number' ? `expect ${shareText(expected)} blocked` : null,
    assumed.length === 0 ? null : `assumed, look: ${assumed.map(factWords).join(', ')}`,
    line['note'] as string | null,
  ].filter((each) => each !== null);
}

function lastReading(house: House, reading: Row | null): string | null {
  if (reading === null) return 'never read';
  const on = dayText(house.zone.dayOf(new Date(String(reading['observedAt']))));
  const found =
    reading['plugged'] === true
      ? 'plugged'
      : typeof reading['occlusion'] === 'number'
        ? `${shareText(reading['occlusion'])} blocked`
        : 'read';
  const how = [
    reading['method'] === null ? null : METHOD_TEXT[reading['method'] as Method],
    PHASE_TEXT[reading['phase'] as Phase],
  ].filter((each) => each !== null);
  return `last ${on}: ${found} (${how.join(', ')})`;
}

function pitWords(pit: Row | null, units: UnitSystem): string[] {
  if (pit === null) return [];
  const [depth, diameter] = [pit['depth_mm'], pit['diameter_mm']];
  return [
    ...(typeof depth === 'number' ? [`${quantityText(depth, 'bore', units)} deep`] : []),
    ...(typeof diameter === 'number' ? [`${quantityText(diameter, 'bore', units)} wide`] : []),
    ...(pit['enterable'] === true ? ['one could get in: hands and tools only'] : []),
  ];
}

const factWords = (name: string): string =>
  FACT_TEXT[name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`)] ?? words(name);

const words = (name: string): string =>
  name.replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`).replaceAll('_', ' ');

/** Entries of a plan that say what stands elsewhere on the sheet, or nothing to a crew. */
const SAID_ELSEWHERE = new Set([
  'lengthM',
  'occlusionExpected',
  'entries',
  'assumed',
  'part',
  'parts',
  'found',
  'newMaterial',
  'sources',
]);

function planWords(plan: Record<string, unknown>, units: UnitSystem): string[] {
  return Object.entries(plan).flatMap(([name, value]): string[] => {
    if (SAID_ELSEWHERE.has(name) || value === null || value === false || typeof value === 'object') return [];
    if (name === 'passes' && typeof value === 'number') return [countText(value, 'pass', 'passes')];
    if (value === true) return [words(name)];
    if (typeof value === 'string')
      return [name === 'prove' ? `prove that ${value}` : `${words(name)}: ${value}`];
    if (typeof value !== 'number') return [];
    if (name.endsWith('Mm')) return [`${words(name.slice(0, -2))}: ${quantityText(value, 'bore', units)}`];
    if (name.endsWith('M3'))
      return [`${words(name.slice(0, -2))}: ${quantityText(value * 1000, 'volume', units)}`];
    if (name.endsWith('M')) return [`${words(name.slice(0, -1))}: ${quantityText(value, 'length', units)}`];
    return [`${words(name)}: ${value}`];
  });
}
