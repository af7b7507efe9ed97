import type { ReadingRow } from '../actions/clientBase.js';
import type { Deposit, Method, Phase, PlugCause } from '../domain/words.js';
import type { Chance } from './demoChance.js';
import type { DemoLine } from './demoLines.js';

/** Standard deviation of what crews read; a look at the outlet goes in steps of five points. */
const ERROR_SD: Partial<Record<Method, number>> = {
  camera: 0.05,
  outlet_look: 0.1,
  timed_fill: 0.08,
  pit_drawdown: 0.08,
  by_word: 0.12,
};
/** What the five words stand for. */
const WORDS = [0.05, 0.2, 0.5, 0.7, 0.88];
const GROSS_ERRORS = 0.02;
const NOTES = [
  'Orange water at first, clear after the second pass.',
  'Outlet half under leaves.',
  'Client asks for a call the day before.',
  'Hose reached the whole length.',
  'Nozzle slow around the second bend.',
];

export interface Finding {
  line: DemoLine;
  /** True share of the bore that is blocked. */
  occlusion: number;
  /** Days since the last clean. */
  depositDays: number;
  atMs: number;
  phase: Phase;
  crewId: string | null;
}

export function measured(finding: Finding, chance: Chance): ReadingRow {
  const method = methodFor(finding, chance);
  const row = unmeasured(finding);
  const deposit = finding.phase === 'after_cleaning' ? 'none' : depositOf(finding, chance);
  return {
    ...row,
    method,
    occlusion: readBy(method, finding.occlusion, chance),
    deposit: chance.happens(0.6) ? deposit : 'unknown',
    note: chance.happens(0.05) ? chance.pick(NOTES) : null,
    distanceM: method === 'camera' && chance.happens(0.3) ? worstSpot(finding.line, chance) : null,
  };
}

/** Cleaned, and nobody measured. */
export function unmeasured(finding: Finding): ReadingRow {
  return {
    lineId: finding.line.row.lineId,
    observedAt: `${new Date(finding.atMs).toISOString().slice(0, 19)}.000Z`,
    phase: finding.phase,
    method: null,
    occlusion: null,
    plugged: false,
    plugCause: null,
    crewId: finding.crewId,
    deposit: 'unknown',
    note: null,
    distanceM: null,
  };
}

export function plugged(finding: Finding, cause: PlugCause): ReadingRow {
  return {
    ...unmeasured(finding),
    plugged: true,
    plugCause: cause,
    deposit: cause === 'roots' ? 'roots' : 'unknown',
    note: cause === 'ice' ? 'Frozen at the outlet.' : null,
  };
}

function methodFor({ line, phase }: Finding, chance: Chance): Method {
  if (phase === 'no_cleaning') return chance.weighted<Method>({ outlet_look: 75, by_word: 25 });
  if (line.row.kind === 'sump_discharge') {
    return chance.weighted<Method>({ camera: 30, outlet_look: 35, pit_drawdown: 25, timed_fill: 10 });
  }
  return chance.weighted<Method>({ camera: 40, outlet_look: 45, timed_fill: 12, by_word: 3 });
}

function readBy(method: Method, occlusion: number, chance: Chance): number {
  if (chance.happens(GROSS_ERRORS)) return slip(occlusion, chance);
  const seen = clamp(occlusion + (ERROR_SD[method] ?? 0.1) * chance.normal());
  if (method === 'outlet_look') return hundredths(Math.round(seen * 20) / 20);
  if (method === 'by_word') return nearest(WORDS, seen);
  return hundredths(seen);
}

/** What goes wrong on a phone in the rain: any number, the free bore for the blocked one, percent divided twice. */
function slip(occlusion: number, chance: Chance): number {
  const kind = chance.whole(1, 3);
  if (kind === 1) return hundredths(chance.unit());
  return kind === 2 ? hundredths(clamp(1 - occlusion)) : Math.round(occlusion * 100) / 10_000;
}

function depositOf({ occlusion, depositDays, line }: Finding, chance: Chance): Deposit {
  if (occlusion < 0.04) return 'none';
  if (line.material === 'clay' && chance.happens(0.12)) return 'roots';
  if (chance.happens(0.06)) return 'granular';
  return depositDays > 190 && chance.happens(0.6) ? 'crust' : 'gel';
}

function worstSpot(line: DemoLine, chance: Chance): number | null {
  return line.row.lengthM === null ? null : Math.round(chance.between(0.5, line.row.lengthM) * 10) / 10;
}

function nearest(values: readonly number[], value: number): number {
  return values.reduce((best, each) => (Math.abs(each - value) < Math.abs(best - value) ? each : best), 0.05);
}

const clamp = (share: number): number => Math.min(1, Math.max(0, share));
const hundredths = (value: number): number => Math.round(value * 100) / 100;
