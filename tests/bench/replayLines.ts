import { Random } from '../../src/domain/routing/random.js';

/** How occlusion grows in a simulated base; the last three bend, the model may or may not know how. */
export const PROCESSES = ['gamma', 'wiener', 'site_season', 'autocatalytic', 'saturating'] as const;
export type Process = (typeof PROCESSES)[number];

export type ReplayMethod = 'camera' | 'outlet_look' | 'timed_fill';
export interface ReplayReading {
  method: ReplayMethod;
  occlusion: number;
}

/** Every visit cleans. `event`: the line passed its threshold first and somebody called. */
export interface ReplayVisit {
  day: number;
  before: ReplayReading | null;
  after: ReplayReading | null;
  event: boolean;
}

export interface ReplayLine {
  id: string;
  site: string;
  kind: 'sump_discharge' | 'footing_drain' | 'floor_drain' | 'yard_drain';
  ironMgL: number | null;
  threshold: number;
  /** Day the line started clean. */
  installedDay: number;
  /** True rate per day of the drive; hidden from all but the one who knows. */
  rate: number;
  /** Drive on each day from `installedDay`, the same whoever visits when. */
  drive: Float32Array;
  /** Before the service ruled. */
  history: ReplayVisit[];
  /** True occlusion at the start of the replay. */
  occlusionAtStart: number;
}

export interface ReplayBase {
  process: Process;
  lines: ReplayLine[];
  startDay: number;
  endDay: number;
}

/** Share of growth noise: variance of a step over its mean. */
export const GAMMA_NOISE = 0.015;
/** Standard deviation of a day's growth that does not depend on the rate. */
export const WIENER_NOISE = 0.006;
const SEASON = 0.45;
const PEAK_DAY = 105;
const READING_SD: Record<ReplayMethod, number> = { camera: 0.05, outlet_look: 0.1, timed_fill: 0.08 };
const GROSS_ERRORS = 0.02;

export function seasonAt(process: Process, day: number): number {
  return process === 'site_season' ? 1 + SEASON * Math.cos((2 * Math.PI * (day - PEAK_DAY)) / 365.25) : 1;
}

/** Growth of occlusion per unit of drive, at an occlusion. */
export function bendAt(process: Process, occlusion: number): number {
  const x = Math.min(1, Math.max(0, occlusion));
  if (process === 'autocatalytic') return 0.25 + 4 * x * (1 - x);
  return process === 'saturating' ? Math.exp(-1.6 * (x - 0.25)) : 1;
}

/** A base whose crews went to worse lines sooner for some years, and the noise of the years to come. */
export function replayBase(process: Process, lineCount: number, years: number, seed: number): ReplayBase {
  const random = new Random(seed);
  const startDay = 20_454; // 1 January 2026
  const endDay = startDay + Math.round(years * 365.25);
  const siteSd = process === 'site_season' ? 0.9 : 0.6;
  const lineSd = process === 'site_season' ? 0.6 : 0.95;
  const lines: ReplayLine[] = [];
  for (let site = 0; lines.length < lineCount; site++) {
    const iron = Math.exp(Math.log(1.5) + 0.8 * normal(random));
    const siteEffect = siteSd * normal(random);
    const tested = random.unit() < 0.6;
    for (let n = 2 + random.below(4); n > 0 && lines.length < lineCount; n--) {
      const kind =
        (['sump_discharge', 'footing_drain', 'floor_drain', 'yard_drain'] as const)[random.below(4)] ??
        'yard_drain';
      const kindEffect = { sump_discharge: 0.3, footing_drain: 0, floor_drain: -0.3, yard_drain: -0.1 }[kind];
      const logRate =
        Math.log(0.0005) + 0.4 * Math.log(iron / 1.5) + kindEffect + siteEffect + lineSd * normal(random);
      const rate = Math.min(0.02, Math.exp(logRate));
      const threshold = { sump_discharge: 0.4, footing_drain: 0.45, floor_drain: 0.45, yard_drain: 0.55 }[
        kind
      ];
      const installedDay = startDay - 30 - random.below(1000);
      const line: ReplayLine = {
        id: `L${String(lines.length).padStart(4, '0')}`,
        site: `S${String(site).padStart(4, '0')}`,
        kind,
        ironMgL: tested ? iron : null,
        threshold,
        installedDay,
        rate,
        drive: driveOf(process, rate, installedDay, endDay, random),
        history: [],
        occlusionAtStart: 0,
      };
      lines.push(line);
      pastOf(process, line, startDay, random);
    }
  }
  return { process, lines, startDay, endDay };
}

function driveOf(
  process: Process,
  rate: number,
  fromDay: number,
  toDay: number,
  random: Random,
): Float32Array {
  const drive = new Float32Array(toDay - fromDay + 1);
  for (let i = 0; i < drive.length; i++) {
    const mean = rate * seasonAt(process, fromDay + i);
    drive[i] =
      process === 'wiener'
        ? mean + WIENER_NOISE * normal(random)
        : GAMMA_NOISE * gamma(mean / GAMMA_NOISE, random);
  }
  return drive;
}

/** Visits of crews who know their worse lines: the faster the line, the shorter the interval, with much scatter. */
function pastOf(process: Process, line: ReplayLine, startDay: number, random: Random): void {
  const typical = 200 * Math.exp(-0.45 * Math.log(line.rate / 0.0005));
  let occlusion = 0.01;
  let next = line.installedDay + scattered(typical, random);
  for (let day = line.installedDay; day < startDay; day++) {
    occlusion = grown(process, line, occlusion, day);
    const event = occlusion >= line.threshold;
    if (!event && day < next) continue;
    const served = serve(occlusion, day, event, random);
    line.history.push(served.visit);
    occlusion = served.residue;
    next = day + scattered(typical, random);
  }
  line.occlusionAtStart = occlusion;
}

const scattered = (typical: number, random: Random): number =>
  Math.round(Math.min(700, Math.max(20, typical * Math.exp(0.45 * normal(random)))));

/** Occlusion at the end of `day`. */
export function grown(process: Process, line: ReplayLine, occlusion: number, day: number): number {
  const drive = line.drive[day - line.installedDay] ?? 0;
  return Math.min(1, Math.max(0, occlusion + bendAt(process, occlusion) * drive));
}

/** One visit: what was read, with error, and what is left. */
export function serve(
  occlusion: number,
  day: number,
  event: boolean,
  random: Random,
): { visit: ReplayVisit; residue: number } {
  const method = methodOf(random);
  const residue = Math.min(occlusion, Math.abs(0.04 + 0.03 * normal(random)));
  const before = event || random.unit() < 0.92 ? read(method, occlusion, random) : null;
  const after = random.unit() < 0.5 ? read(method, residue, random) : null;
  return { visit: { day, before, after, event }, residue };
}

function methodOf(random: Random): ReplayMethod {
  const share = random.unit();
  return share < 0.45 ? 'camera' : share < 0.85 ? 'outlet_look' : 'timed_fill';
}

function read(method: ReplayMethod, occlusion: number, random: Random): ReplayReading {
  if (random.unit() < GROSS_ERRORS) return { method, occlusion: Math.round(100 * random.unit()) / 100 };
  const seen = Math.min(1, Math.max(0, occlusion + READING_SD[method] * normal(random)));
  const step = method === 'outlet_look' ? 0.05 : 0.01;
  return { method, occlusion: Math.round(seen / step) * step };
}

export function normal(random: Random): number {
  return Math.sqrt(-2 * Math.log(1 - random.unit())) * Math.cos(2 * Math.PI * random.unit());
}

/** @see Marsaglia & Tsang (2000), ACM Trans. Math. Softw. 26(3), 363-372, with their boost below shape 1. */
function gamma(shape: number, random: Random): number {
  if (shape < 1) return gamma(shape + 1, random) * Math.exp(Math.log(1 - random.unit()) / shape);
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const z = normal(random);
    const v = (1 + c * z) ** 3;
    if (v > 0 && Math.log(1 - random.unit()) < 0.5 * z * z + d - d * v + d * Math.log(v)) return d * v;
  }
}
