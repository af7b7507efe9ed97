import type { Bound } from '../words.js';
import { type ForeseenLaw, levelForeseen } from './levelForeseen.js';
import { SLIP_KINDS } from './lineFilter.js';
import { normalCdf, normalDensity, normalQuantile } from './normal.js';

/** Days ahead whose chances are stored with a forecast. */
export const STORED_AHEAD = [0, 7, 14, 30, 60, 90, 180, 365] as const;
const MONTH_DAYS = 365.25 / 12;

/** A forecast as it was stored, never refitted. */
export interface StoredForecast {
  /** Days are day numbers. */
  asOfDay: number;
  /** Chance of having passed the action limit by each of STORED_AHEAD. */
  actionChances: readonly number[];
  actionLimit: number;
  occlusion: number;
  ratePerMonth: number;
  /** Of the last clean before it; null where none is on record. */
  cleanDay: number | null;
  /** What it was made under; null where that was not kept: its level is then taken to go by the yearly pace. */
  laws: readonly ForeseenLaw[] | null;
  dueDay: number | null;
}

/** What the line's next visit found, before it cleaned. */
export interface Finding {
  day: number;
  /** By deposit, or nobody knows by what. */
  plugged: boolean;
  occlusion: number | null;
  standardError: number | null;
  bound: Bound;
  /** A person stands by the reading: it is no slip. */
  confirmed: boolean;
}

export interface Judgement {
  /** Chance the forecast gave the action limit to be passed by the day it is judged on. */
  expected: number;
  /** How sure the finding is that it was, 0 to 1: a reading near the limit leaves it open. */
  passed: number;
  /** Occlusion found over that forecast for its day; null where the reading only bounds it. */
  residual: number | null;
  /** The line was held to be due at once, and the visit came soon. */
  dueAtOnce: boolean;
}

/** Due at once is a line whose action limit is passed by tomorrow with this chance: its 10 % date is today. */
const AT_ONCE_CHANCE = 0.1;
/** A visit later than this tells little of what was so on the day. */
const AT_ONCE_DAYS = 30;

/**
 * Judges a forecast on the day of the next visit: a visit stops the clock, so it tells only whether the limit was
 * passed by then, and is held against the chance for that day, never against the limit's own date. A plug that
 * called for the visit is judged on the day the line was due: the plug chose its day, the schedule did not.
 *
 * @returns Null when the finding tells nothing of the limit.
 */
export function judge(forecast: StoredForecast, found: Finding): Judgement | null {
  const { actionChances, actionLimit, asOfDay, dueDay } = forecast;
  if (actionChances.length !== STORED_AHEAD.length) return null;
  const days = found.day - asOfDay;
  const last = STORED_AHEAD[STORED_AHEAD.length - 1] ?? 0;
  if (days < 0) return null;
  const dueAtOnce = days <= AT_ONCE_DAYS && chanceBy(actionChances, 1) >= AT_ONCE_CHANCE;
  if (found.plugged) {
    const judgedDays = Math.max(days, (dueDay ?? found.day) - asOfDay);
    return judgedDays > last
      ? null
      : { expected: chanceBy(actionChances, judgedDays), passed: 1, residual: null, dueAtOnce };
  }
  if (found.occlusion === null || found.standardError === null) return null;
  const expected = chanceBy(actionChances, Math.min(days, last));
  const reading = {
    occlusion: found.occlusion,
    standardError: found.standardError,
    bound: found.bound,
    slipShare: found.confirmed ? 0 : slipShareOf(forecast.laws),
  };
  const ratePerDay = forecast.ratePerMonth / MONTH_DAYS;
  const level = levelForeseen({ ...forecast, ratePerDay }, forecast.laws, found.day);
  const passed = passedGiven(reading, actionLimit, expected, level);
  if (days > last && passed > 0.5) return null; // passed, but nobody knows on which side of the last stored day
  const residual = found.bound === 'exact' ? found.occlusion - level : null;
  return { expected, passed, residual, dueAtOnce };
}

/** Share of readings that are slips, by the fit a forecast was made under; 0 where that was not kept. */
function slipShareOf(laws: readonly ForeseenLaw[] | null): number {
  let share = 0;
  let weights = 0;
  for (const { weight, parameters } of laws ?? []) {
    share += weight * (parameters.grossShare ?? 0);
    weights += weight;
  }
  return weights > 0 ? share / weights : 0;
}

/** Straight between the stored days. */
export function chanceBy(chances: readonly number[], days: number): number {
  const k = STORED_AHEAD.findIndex((ahead) => ahead >= days);
  if (k <= 0) return chances[k < 0 ? chances.length - 1 : 0] ?? 0;
  const [low = 0, high = 0] = STORED_AHEAD.slice(k - 1, k + 1);
  const [before = 0, after = 0] = chances.slice(k - 1, k + 1);
  return before + ((days - low) / (high - low)) * (after - before);
}

/**
 * A forecast level is taken for at least and at most so uncertain, and for the last where its chance and its level lie
 * on different sides of the limit (common practice, no source).
 */
const LEAST_SPREAD = 0.03;
const MOST_SPREAD = 0.4;
const USUAL_SPREAD = 0.15;
/** Levels are summed over well beyond an empty and a full bore, so that a forecast's tails count. */
const LOWEST = -0.5;
const HIGHEST = 1.5;
const LEVEL_STEP = 0.005;

/** What a visit read; `slipShare` is the chance that it is a slip of some kind, 0 where a person stands by it. */
export interface ScoredReading {
  occlusion: number;
  standardError: number;
  bound: Bound;
  slipShare: number;
}

/**
 * Chance that the level is past the limit, given a reading, the chance before it and the level forecast: before it the
 * level is normal about the forecast, as wide as the chance asks for. In the mean over readings, slips among them, it is
 * the chance before, if the forecast was right: so sums of the two may be compared.
 *
 * @param level Occlusion forecast for the reading's day.
 */
export function passedGiven(reading: ScoredReading, limit: number, before: number, level: number): number {
  if (before <= 0 || before >= 1) return before;
  const z = -normalQuantile(before);
  const asked = (limit - level) / z;
  const spread = asked > 0 ? Math.min(MOST_SPREAD, Math.max(LEAST_SPREAD, asked)) : USUAL_SPREAD;
  const middle = limit - z * spread;
  let past = 0;
  let all = 0;
  for (let at = LOWEST + LEVEL_STEP / 2; at < HIGHEST; at += LEVEL_STEP) {
    const weight = normalDensity((at - middle) / spread) * likelihood(reading, at);
    all += weight;
    if (at > limit) past += weight;
  }
  return all > 0 ? past / all : before;
}

/** Readings are written down in whole percents; what is read as nothing may be up to half of one. */
const READ_STEP = 0.01;

/** Of the reading at a level: read right, or a slip of one of the kinds the line's filter knows. */
function likelihood(reading: ScoredReading, level: number): number {
  const nothing = reading.bound === 'exact' && reading.occlusion <= READ_STEP / 4;
  const seen: ScoredReading = nothing ? { ...reading, occlusion: READ_STEP / 2, bound: 'at_most' } : reading;
  const right = readRight(seen, level);
  const { slipShare } = reading;
  return slipShare > 0 ? (1 - slipShare) * right + slipShare * readAsSlip(seen, level) : right;
}

/** Chance of the bound, or density per unit of occlusion. */
function readRight({ occlusion, standardError, bound }: ScoredReading, level: number): number {
  const z = (level - occlusion) / standardError;
  if (bound === 'exact') return normalDensity(z) / standardError;
  return bound === 'at_least' ? normalCdf(z) : normalCdf(-z);
}

const OTHER_WAY = { exact: 'exact', at_least: 'at_most', at_most: 'at_least' } as const;

/** Anything at all, the free bore taken for the deposit, or a percentage divided by a hundred twice. */
function readAsSlip(reading: ScoredReading, level: number): number {
  const { occlusion, standardError, bound } = reading;
  const anything = bound === 'exact' ? 1 : bound === 'at_most' ? occlusion : 1 - occlusion;
  const turned = readRight({ ...reading, occlusion: 1 - occlusion, bound: OTHER_WAY[bound] }, level);
  const under = (percent: number): number => normalCdf((100 * percent - level) / standardError);
  const divided =
    bound === 'exact'
      ? (under(occlusion + READ_STEP / 2) - under(occlusion - READ_STEP / 2)) / READ_STEP
      : bound === 'at_most'
        ? under(occlusion)
        : 1 - under(occlusion);
  return SLIP_KINDS.anything * anything + SLIP_KINDS.freeBore * turned + SLIP_KINDS.dividedTwice * divided;
}

/** Sums over the judged forecasts of one class, method or crew. */
export interface ScoreSums {
  name: string;
  count: number;
  expected: number;
  passed: number;
  /** Sum of expected × (1 − expected). */
  variance: number;
}

export interface ResidualSums {
  name: string;
  count: number;
  mean: number;
  sd: number;
}

export interface ClassScore {
  name: string;
  count: number;
  /** Mean chance forecast, and share that came true. */
  expected: number;
  observed: number;
  standardError: number;
  /** Where the share of an honest class would lie. */
  low: number;
  high: number;
  verdict: 'within' | 'more' | 'fewer' | 'too_few';
}

export interface BiasScore {
  name: string;
  count: number;
  /** Mean of found over forecast, fractions of the bore. */
  bias: number;
  standardError: number;
  verdict: 'within' | 'higher' | 'lower' | 'too_few';
}

/** Fewer say nothing (common practice, no source). */
const LEAST_COUNT = 20;
/** A share off by no more than this is no news, however many stand behind it. */
const CLASS_TOLERANCE = 0.02;
/** Off by more than this, and by more than two standard errors. */
export const BIAS_TOLERANCE = 0.05;

/**
 * Where the share that came true of an honest class lies: within two standard errors of what its own chances sum to and
 * half a visit, since visits are counted whole and crossings are rare; at least the tolerance about the forecast. Chances
 * of each visit are unlike, so their variance is Σ p (1 − p), less than that of as many equal ones. Verdict and picture
 * both go by it.
 *
 * @param variance Σ p (1 − p) over the class's forecasts.
 */
function honestBand({ count, expected, variance }: ScoreSums): { low: number; high: number } {
  const away = Math.max(CLASS_TOLERANCE, (2 * Math.sqrt(variance) + 0.5) / count);
  return { low: Math.max(0, expected / count - away), high: Math.min(1, expected / count + away) };
}

export function classScore(sums: ScoreSums): ClassScore {
  const { name, count, expected, passed, variance } = sums;
  const share = passed / count;
  const standardError = Math.sqrt(variance) / count;
  const { low, high } = honestBand(sums);
  const verdict = count < LEAST_COUNT ? 'too_few' : share > high ? 'more' : share < low ? 'fewer' : 'within';
  return { name, count, expected: expected / count, observed: share, standardError, low, high, verdict };
}

export function biasScore({ name, count, mean, sd }: ResidualSums): BiasScore {
  const standardError = sd / Math.sqrt(count);
  const off = Math.abs(mean) > Math.max(BIAS_TOLERANCE, 2 * standardError);
  const verdict = count < LEAST_COUNT ? 'too_few' : !off ? 'within' : mean > 0 ? 'higher' : 'lower';
  return { name, count, bias: mean, standardError, verdict };
}

/** Lines due at once, whatever was known of them; by the chances told at least the risk of them are past their limit. */
export const DUE_AT_ONCE = 'due at once';

/** The others by readings known when the forecast was made. */
export const HISTORY_CLASSES = [
  { name: 'no reading', from: 0, to: 0 },
  { name: '1 or 2 readings', from: 1, to: 2 },
  { name: '3 to 5 readings', from: 3, to: 5 },
  { name: '6 readings and more', from: 6, to: Number.MAX_SAFE_INTEGER },
] as const;

export interface CalibrationReport {
  /** Forecasts judged. */
  count: number;
  classes: ClassScore[];
  methods: BiasScore[];
  crews: BiasScore[];
  /** Whether the model is off anywhere, and how. */
  off: boolean;
  findings: { code: string; facts: object; text: string }[];
}

export function calibrationReport(sums: {
  classes: readonly ScoreSums[];
  methods: readonly ResidualSums[];
  crews: readonly ResidualSums[];
}): CalibrationReport {
  const classes = sums.classes.filter(({ count }) => count > 0).map(classScore);
  const methods = sums.methods.filter(({ count }) => count > 0).map(biasScore);
  const crews = sums.crews.filter(({ count }) => count > 0).map(biasScore);
  const all = biasOfAll(methods);
  const findings = [
    ...classes.flatMap(classFinding),
    ...(methods.length > 1 ? allFinding(all) : []),
    ...methods.flatMap((score) => biasFinding('method', score, all)),
    ...crews.flatMap((score) => biasFinding('crew', score, all)),
  ];
  const count = classes.reduce((sum, each) => sum + each.count, 0);
  return { count, classes, methods, crews, off: findings.length > 0, findings };
}

const percent = (share: number): string => `${(100 * share).toFixed(1)} %`;

/** What an owner can do about what is off (common practice, no source). */
const WHAT_TO_DO = {
  more: 'See that calls, cleans without flow and changes of these lines are on record, and judge the readings in doubt; until it is within again a lower yearly risk (setting yearlyPlugRisk) brings visits forward.',
  fewer:
    'Judge the readings in doubt, and see that cleans without flow are on record. It moves dates only where the action limit sets them (setting intervals.overLimitChance; GET /v1/reports/cost-against-risk says how many dates each rule sets). It says nothing of plugs: it is no ground to accept a higher yearly risk.',
  all: 'The weekly fit takes this in by itself; see that calls, cleans without flow and changes are on record.',
  method:
    'Read some lines by it and by camera in one visit: how far the two lie apart shows whether the tool or its scale is off.',
  crew: 'They may read otherwise, or be sent to worse lines. In one visit let two people, or two tools, read the same lines before the clean, or swap the routes of coming visits; no second trip to a house for it.',
} as const;

function classFinding(score: ClassScore): CalibrationReport['findings'] {
  if (score.verdict !== 'more' && score.verdict !== 'fewer') return [];
  const consequence =
    score.verdict === 'more' ? 'dates come out late' : 'lines reach that limit later than believed';
  const whose = score.name === DUE_AT_ONCE ? `Lines ${score.name}` : `Lines with ${score.name}`;
  const text = `${whose}: ${percent(score.observed)} were past their action limit at the next visit where ${percent(score.expected)} was forecast (${score.count} visits); ${consequence}. ${WHAT_TO_DO[score.verdict]}`;
  return [{ code: `class_${score.verdict}`, facts: { ...score }, text }];
}

/** Over all readings, whoever took them and however. */
function biasOfAll(methods: readonly BiasScore[]): BiasScore {
  const count = methods.reduce((sum, each) => sum + each.count, 0);
  const over = (of: (score: BiasScore) => number): number =>
    methods.reduce((sum, score) => sum + of(score), 0) / Math.max(1, count);
  const mean = over((score) => score.count * score.bias);
  const variance = over((score) => (score.count * score.standardError) ** 2);
  return biasScore({ name: 'all', count, mean, sd: Math.sqrt(variance) });
}

function allFinding(all: BiasScore): CalibrationReport['findings'] {
  if (all.verdict !== 'higher' && all.verdict !== 'lower') return [];
  const speed = all.verdict === 'higher' ? 'faster' : 'slower';
  const text = `Readings of all methods lie ${percent(Math.abs(all.bias))} of the bore ${all.verdict} than forecast in the mean of ${all.count}: lines foul ${speed} than believed. ${WHAT_TO_DO.all}`;
  return [{ code: `all_${all.verdict}`, facts: { ...all }, text }];
}

/** A method or crew is named when it is off and stands out from all readings: else it is the model that is off. */
function biasFinding(of: 'method' | 'crew', score: BiasScore, all: BiasScore): CalibrationReport['findings'] {
  if (score.verdict !== 'higher' && score.verdict !== 'lower') return [];
  const apart = Math.abs(score.bias - all.bias) > Math.max(BIAS_TOLERANCE, 2 * score.standardError);
  if (!apart && all.count > score.count) return [];
  const text = `Readings of ${of} ${score.name.replaceAll('_', ' ')} lie ${percent(Math.abs(score.bias))} of the bore ${score.verdict} than forecast in the mean of ${score.count}. ${WHAT_TO_DO[of]}`;
  return [{ code: `${of}_${score.verdict}`, facts: { ...score }, text }];
}
