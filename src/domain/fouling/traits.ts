import type { LineEvidence } from './evidence.js';

/**
 * What is known of a line before anybody looks into it, as columns of numbers: 1, log iron, no iron tested nearby,
 * log bore, kind, material, area. Each column has a prior of mean 0, so kinds and areas nobody has data of keep 0; the first one's is the usual
 * log rate, so a base that nobody has read is like others, however many lines it has.
 */
export interface TraitList {
  names: readonly string[];
  /** Prior variance of each column's coefficient. */
  priorVariance: readonly number[];
  /** Iron in mg/l of sites with a tested line, log of its mean. */
  siteLogIron: Readonly<Record<string, number>>;
  /** Of untested lines without a tested neighbour. */
  meanLogIron: number;
}

const FIXED = ['one', 'logIron', 'ironUnknown', 'logBore'] as const;
/** Log of growth a day, and how far bases lie apart in it (common practice, no source). */
export const USUAL_LOG_RATE = Math.log(0.0009);
const BASE_VARIANCE = 0.4;
const FIXED_VARIANCE = [BASE_VARIANCE, 1, 1, 1] as const;
const KIND_VARIANCE = 0.25;
const MATERIAL_VARIANCE = 0.25;
const AREA_VARIANCE = 0.06;
/** Below the limit of common field tests. */
const LEAST_IRON = 0.05;
const MIDDLE_IRON = 1.5;
const MIDDLE_BORE_MM = 100;

export function traitList(lines: readonly LineEvidence[]): TraitList {
  const kinds = new Set<string>();
  const materials = new Set<string>();
  const areas = new Set<string>();
  const tested = new Map<string, { sum: number; count: number }>();
  let sum = 0;
  let count = 0;
  for (const line of lines) {
    kinds.add(`kind:${line.kind}`);
    materials.add(`material:${line.material}`);
    areas.add(`area:${line.area}`);
    if (line.ironMgL === null) continue;
    const value = logIron(line.ironMgL);
    const site = tested.get(line.siteId) ?? { sum: 0, count: 0 };
    tested.set(line.siteId, { sum: site.sum + value, count: site.count + 1 });
    sum += value;
    count++;
  }
  const ordered = (names: Set<string>): string[] => [...names].sort();
  const siteLogIron: Record<string, number> = {};
  for (const [siteId, site] of tested) siteLogIron[siteId] = site.sum / site.count;
  return {
    names: [...FIXED, ...ordered(kinds), ...ordered(materials), ...ordered(areas)],
    priorVariance: [
      ...FIXED_VARIANCE,
      ...[...kinds].map(() => KIND_VARIANCE),
      ...[...materials].map(() => MATERIAL_VARIANCE),
      ...[...areas].map(() => AREA_VARIANCE),
    ],
    siteLogIron,
    meanLogIron: count === 0 ? 0 : sum / count,
  };
}

function logIron(ironMgL: number): number {
  return Math.log(Math.max(LEAST_IRON, ironMgL) / MIDDLE_IRON);
}

/** Columns of a line that are not 0, and their values. */
export interface Traits {
  columns: number[];
  values: number[];
}

export function traitsOf(list: TraitList, line: LineEvidence): Traits {
  const near = list.siteLogIron[line.siteId];
  const known = line.ironMgL === null ? near : logIron(line.ironMgL);
  const columns = [0, 1];
  const values = [1, known ?? list.meanLogIron];
  const add = (column: number, value: number): void => {
    if (column < 0) return;
    columns.push(column);
    values.push(value);
  };
  if (known === undefined) add(2, 1);
  if (line.boreMm !== null) add(3, Math.log(line.boreMm / MIDDLE_BORE_MM));
  add(list.names.indexOf(`kind:${line.kind}`), 1);
  add(list.names.indexOf(`material:${line.material}`), 1);
  add(list.names.indexOf(`area:${line.area}`), 1);
  return { columns, values };
}
