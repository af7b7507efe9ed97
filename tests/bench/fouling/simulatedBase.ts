import type { EvidenceEvent, LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { occlusionOf } from '../../../src/domain/readings/occlusionOf.js';
import { Random } from '../../../src/domain/routing/random.js';
import type { LineKind, Material, Phase } from '../../../src/domain/words.js';
import { normal, oneOf } from './chance.js';
import {
  afterDays,
  type BaseTruth,
  baseTruth,
  crossingDays,
  type Deposit,
  PROCESSES,
  type Process,
} from './growth.js';

export interface SimulatedLine {
  evidence: LineEvidence;
  limit: number;
  /** How it grows. */
  way: Process;
  /** On the as-of day. */
  deposit: Deposit;
  /** Days from the as-of day until the limit is first passed if nobody cleans; 0 when over; Infinity beyond the horizon. */
  crossingDays: number;
}

export interface SimulatedBase {
  truth: BaseTruth;
  habits: Habits;
  asOfDay: number;
  lines: SimulatedLine[];
}

const BOOK_DAYS = 1015;
const KEPT_READINGS = 12;
const FULL = 0.97;
const CAMERA_SD = 0.05;
const LOOK_SD = 0.1;
const FILL_SD = 0.08;

/**
 * A business's books as they are: worse lines visited sooner, plugged ones on a call, readings missing before or
 * after, slips, the last twelve readings kept. The spread of rates, noise and season differ from base to base.
 */
export function simulatedBase(process: Process, lineCount: number, seed: number): SimulatedBase {
  const random = new Random(seed * 7919 + PROCESSES.indexOf(process));
  for (let i = 0; i < 20; i++) random.unit();
  const between = (low: number, high: number): number => low + (high - low) * random.unit();
  const truth = baseTruth(process, random);
  const asOfDay = 20_726;
  const siteSd = process === 'site_season' ? between(0.7, 1) : between(0.3, 0.7);
  const lineSd = between(0.5, 0.95);
  const middle = Math.log(between(0.0004, 0.0008));
  const visits = {
    days: between(70, 140),
    slope: between(-0.5, -0.15),
    sd: between(0.25, 0.6),
    longest: between(180, 400),
  };
  const residue = { mean: between(0.02, 0.07), sd: between(0.015, 0.04) };
  const lines: SimulatedLine[] = [];
  for (let site = 0; lines.length < lineCount; site++) {
    const iron = Math.exp(Math.log(1.5) + 0.8 * normal(random));
    const effect = siteSd * normal(random);
    const untestedSite = random.unit() < 0.25;
    const size = random.unit() < 0.12 ? 6 + random.below(20) : 1 + random.below(5);
    for (let n = 0; n < size && lines.length < lineCount; n++) {
      const kind = oneOf<LineKind>(random, {
        sump_discharge: 0.16,
        footing_drain: 0.35,
        floor_drain: 0.23,
        yard_drain: 0.26,
      });
      const material = oneOf<Material>(random, {
        pvc: 0.45,
        corrugated_hdpe: 0.35,
        clay: 0.1,
        concrete: 0.1,
      } as Record<Material, number>);
      const boreMm = [75, 100, 100, 100, 150, 150, 200][random.below(7)] ?? 100;
      const traits =
        0.4 * Math.log(iron / 1.5) +
        { sump_discharge: 0.3, footing_drain: 0.1, floor_drain: -0.2, yard_drain: -0.1 }[kind] +
        (material === 'corrugated_hdpe' ? 0.15 : 0) -
        0.3 * Math.log(boreMm / 100);
      const rate = Math.min(0.03, Math.exp(middle + traits + effect + lineSd * normal(random)));
      const lineId = `L${String(lines.length).padStart(5, '0')}`;
      const line: LineEvidence = {
        lineId,
        siteId: `S${String(site).padStart(4, '0')}`,
        area: '',
        kind,
        material,
        boreMm,
        ironMgL: untestedSite || random.unit() < 0.2 ? null : iron * Math.exp(0.1 * normal(random)),
        start: { kind: 'clean', day: 0 },
        events: [],
      };
      const way =
        process === 'mixed'
          ? ((['gamma', 'saturating', 'autocatalytic', 'gamma'] as const)[random.below(4)] ?? 'gamma')
          : process;
      lines.push(lineOf(truth, way, line, rate, asOfDay, { visits, residue }, random));
    }
  }
  return { truth, habits: { visits, residue }, asOfDay, lines };
}

interface Habits {
  visits: { days: number; slope: number; sd: number; longest: number };
  residue: { mean: number; sd: number };
}

function lineOf(
  truth: BaseTruth,
  way: Process,
  blank: LineEvidence,
  rateAtFirst: number,
  asOfDay: number,
  { visits, residue }: Habits,
  random: Random,
): SimulatedLine {
  const young = random.unit() < 0.45;
  const installedDay = asOfDay - (young ? 20 + random.below(1060) : 1100 + random.below(9000));
  const bookDay = asOfDay - BOOK_DAYS;
  const limit = [0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.4, 0.6][random.below(8)] ?? 0.5;
  let deposit: Deposit = { ratePerDay: rateAtFirst, level: Math.abs(0.01 * normal(random)), lagDays: 0 };
  const byRate = visits.days * Math.exp(visits.slope * Math.log(rateAtFirst / 0.0006) + 0.1 * normal(random));
  const typical = Math.min(visits.longest, byRate);
  const gap = (): number =>
    Math.round(Math.min(900, Math.max(15, typical * Math.exp(visits.sd * normal(random)))));
  // Before the book begins the crews came as they do now: what the line holds then is what their rounds leave.
  let day = young ? installedDay : bookDay - 1500;
  // A new line's first visit goes by custom, whatever its rate.
  let next = day + Math.round(170 * Math.exp(0.7 * normal(random)));
  let pluggedSince = Infinity;
  let rows: EvidenceEvent[][] = [];
  for (; day < asOfDay; day++) {
    deposit = afterDays(deposit, truth, way, day, 1, random);
    if (deposit.level >= FULL && pluggedSince === Infinity) pluggedSince = day;
    const called = day - pluggedSince >= 3 + 14 * random.unit();
    if (day < next && !called) continue;
    const cleans = called || random.unit() < 0.93;
    const found = readingsAt(blank, day + random.unit() * 0.4, deposit.level, cleans, random, rows.length);
    if (cleans) {
      const level = Math.min(deposit.level, Math.abs(residue.mean + residue.sd * normal(random)));
      const lagDays = truth.lagDays > 0 ? Math.round(truth.lagDays * -Math.log(1 - random.unit())) : 0;
      deposit = { ...deposit, level, lagDays };
      pluggedSince = Infinity;
    }
    if (day >= bookDay) rows.push(found(deposit.level));
    next = day + gap();
  }
  const seen = (events: readonly EvidenceEvent[]): number =>
    events.filter(({ kind }) => kind === 'reading' || kind === 'plugged').length;
  let kept = rows.reduce((sum, events) => sum + seen(events), 0);
  const capped = kept >= KEPT_READINGS;
  while (kept > KEPT_READINGS) kept -= seen(rows.shift() ?? []);
  rows = rows.filter((events) => events.length > 0);
  const events = rows.flat();
  const firstDay = events[0]?.day ?? asOfDay;
  const clean = young && !capped;
  return {
    evidence: {
      ...blank,
      start: clean ? { kind: 'clean', day: installedDay } : { kind: 'unknown', day: firstDay },
      events,
    },
    limit,
    way,
    deposit,
    crossingDays: crossingDays(deposit, limit, truth, way, asOfDay, 0, random),
  };
}

/** What a crew writes down at a visit; the second call takes what the clean left. */
function readingsAt(
  line: LineEvidence,
  day: number,
  level: number,
  cleans: boolean,
  random: Random,
  visit: number,
): (left: number) => EvidenceEvent[] {
  const events: EvidenceEvent[] = [];
  const id = `${line.lineId}/${visit}`;
  const method = oneOf(random, { camera: 0.43, outlet_look: 0.42, timed_fill: 0.15 });
  const take = (phase: Phase, at: number, truly: number): void => {
    if (truly >= FULL && phase !== 'after_cleaning') {
      events.push({ kind: 'plugged', day: at, cause: 'deposit', id: `${id}${phase}` });
      return;
    }
    const sd = { camera: CAMERA_SD, outlet_look: LOOK_SD, timed_fill: FILL_SD }[method];
    const step = method === 'outlet_look' ? 0.05 : 0.01;
    let share = Math.min(0.99, Math.max(0, truly + sd * normal(random)));
    const slip = random.unit();
    if (slip < 0.008) share = random.unit();
    else if (slip < 0.015) share = 1 - share;
    else if (slip < 0.02) share /= 100;
    share = Math.round(share / step) * step;
    const got = occlusionOf(
      { method, share },
      {
        kind: line.kind,
        material: line.material,
        boreMm: line.boreMm,
        slope: null,
        cleanDrawdownMmPerMinute: null,
      },
    );
    if (!got.ok) throw new RangeError('a simulated reading was refused');
    events.push({
      kind: 'reading',
      day: at,
      occlusion: got.occlusion,
      sd: got.standardError,
      bound: got.bound,
      method,
      phase,
      id: `${id}${phase}`,
    });
  };
  if (!cleans) take('no_cleaning', day, level);
  else if (random.unit() < 0.88) take('before_cleaning', day, level);
  const before = events.length > 0;
  return (left) => {
    if (!cleans) return events;
    const after = random.unit() < 0.45;
    // Books with a reading after the clean alone name no clean: the phase implies it.
    if (before || !after) events.push({ kind: 'clean', day });
    if (after) take('after_cleaning', day + 0.05, left);
    return events;
  };
}
