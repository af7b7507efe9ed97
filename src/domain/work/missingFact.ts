import type { Basement, Material, Outlet } from '../words.js';
import type { OwnerSettings } from './settings.js';

/** Facts a crew can tell by looking, in the order in which equals are asked. */
export const ASKED_FACTS = ['basement', 'staysWet', 'material', 'bore', 'outlet', 'length', 'tap'] as const;
export type AskedFact = (typeof ASKED_FACTS)[number];

/** A line of the visit as far as it is known; assumed facts are not known. */
export interface ThinLine {
  lineId: string;
  name: string;
  assumed: readonly string[];
  staysWet: boolean | null;
  material: Material;
  boreMm: number | null;
  lengthM: number | null;
  outlet: Outlet;
  /** Null before the first night. */
  trend: LineOutlook | null;
}

/** What is believed of the line, in days from now. */
export interface LineOutlook {
  /** Days ahead, and the chance of having passed the plug limit by each. */
  ahead: readonly number[];
  plugChances: readonly number[];
  /** Until it is as likely as not past the action limit; null: beyond the horizon. */
  actionInDays: number | null;
  dueInDays: number | null;
  dueRule: string | null;
  /** Ends of the 80 % band of its rate. */
  rateQ10: number;
  rateQ90: number;
}

export interface ThinSite {
  siteId: string;
  basement: Basement;
  tap: 'yes' | 'no' | 'unknown';
}

export interface Question {
  fact: AskedFact;
  /** Null: it is about the site. */
  lineId: string | null;
  /** By how many days the due date could move with the answer. */
  spreadDays: number;
  text: string;
  why: string;
}

/** How far lines of unlike material or bore lie apart in the logarithm of their rate (common practice, no source). */
const LOG_RATE_SPREAD: Partial<Record<AskedFact, number>> = { material: 0.35, bore: 0.25 };
/** Spread of the log rate of a line nobody has read (common practice, no source; the estimator begins at 1.1). */
const UNREAD_LOG_SD = 1.1;
/** Half of the 80 % band of a normal, in standard deviations. */
const BAND_SDS = 1.2816;
const LONGEST_DAYS = 730;
const MONTH_DAYS = 365.25 / 12;

/**
 * The one question of a visit: the missing fact that could move a due date most; null where nothing is missing.
 * Facts that only change minutes and water come last.
 */
export function questionOf(
  site: ThinSite,
  lines: readonly ThinLine[],
  settings: Pick<OwnerSettings, 'yearlyPlugRisk' | 'hardening'>,
): Question | null {
  const asked: Question[] = [];
  if (site.basement === 'unknown')
    asked.push({
      fact: 'basement',
      lineId: null,
      spreadDays: Math.max(0, ...lines.map(({ trend }) => riskSpread(trend, settings))),
      text: 'Is there a basement, and is it finished?',
      why: 'how much risk the lines may run follows from what would flood',
    });
  for (const line of lines) asked.push(...questionsOf(line, settings));
  if (site.tap === 'unknown')
    asked.push({
      fact: 'tap',
      lineId: null,
      spreadDays: 0,
      text: 'Is there an outside tap the hose can be connected to?',
      why: 'with a tap the crew need not bring the water',
    });
  return asked.sort(byValue)[0] ?? null;
}

const byValue = (a: Question, b: Question): number =>
  b.spreadDays - a.spreadDays ||
  ASKED_FACTS.indexOf(a.fact) - ASKED_FACTS.indexOf(b.fact) ||
  ((a.lineId ?? '') < (b.lineId ?? '') ? -1 : 1);

/** Where a line ends: asked first of a visit that flushes toward an outlet nobody knows. */
export const outletQuestion = ({ lineId, name }: Pick<ThinLine, 'lineId' | 'name'>): Question => ({
  fact: 'outlet',
  lineId,
  spreadDays: 0,
  text: `${name}: where does it end?`,
  why: 'whose water it is decides what may be flushed there',
});

function questionsOf(line: ThinLine, settings: Pick<OwnerSettings, 'hardening'>): Question[] {
  const { lineId, name, trend } = line;
  const isMissing = (fact: string, unknown: boolean) => unknown || line.assumed.includes(fact);
  const of = (fact: AskedFact, spreadDays: number, text: string, why: string): Question => ({
    fact,
    lineId,
    spreadDays: Math.round(spreadDays),
    text: `${name}: ${text}`,
    why,
  });
  const asked: Question[] = [];
  if (line.staysWet === null)
    asked.push(
      of(
        'staysWet',
        hardeningSpread(trend, settings),
        'does it stay wet between rains?',
        'ochre hardens sooner where it dries out',
      ),
    );
  if (isMissing('material', line.material === 'unknown'))
    asked.push(
      of(
        'material',
        rateSpread('material', trend),
        'what is the pipe made of?',
        'lines of one material foul alike',
      ),
    );
  if (isMissing('bore', line.boreMm === null))
    asked.push(
      of(
        'bore',
        rateSpread('bore', trend),
        'what is its bore?',
        'a depth says how much of which bore is blocked',
      ),
    );
  if (isMissing('outlet', line.outlet === 'unknown')) asked.push(outletQuestion(line));
  if (isMissing('length', line.lengthM === null))
    asked.push(of('length', 0, 'how long is it?', 'minutes and water of a clean follow from its length'));
  return asked;
}

/** Days between the risk dates of a house without a basement and of a finished one. */
function riskSpread(
  trend: LineOutlook | null,
  { yearlyPlugRisk }: Pick<OwnerSettings, 'yearlyPlugRisk'>,
): number {
  if (!trend) return 0;
  return Math.round(
    Math.abs(withinRisk(trend, yearlyPlugRisk.none) - withinRisk(trend, yearlyPlugRisk.finished)),
  );
}

/** Last day ahead up to which the chance of a plug stays within the yearly risk r: 1 − (1 − r)^(days/365.25). */
export function withinRisk(
  { ahead, plugChances }: Pick<LineOutlook, 'ahead' | 'plugChances'>,
  r: number,
): number {
  let last = 0;
  for (let day = 0; day <= (ahead.at(-1) ?? 0); day++) {
    if (chanceAt(day, ahead, plugChances) > 1 - Math.exp((day / 365.25) * Math.log(1 - r)) + 1e-9) break;
    last = day;
  }
  return last;
}

/** Chance on a day, straight between the days it is known for. */
function chanceAt(day: number, ahead: readonly number[], chances: readonly number[]): number {
  const next = ahead.findIndex((each) => each >= day);
  if (next <= 0) return chances[Math.max(0, next)] ?? 0;
  const [from, to] = [ahead[next - 1] ?? 0, ahead[next] ?? 0];
  const share = (day - from) / (to - from);
  return (chances[next - 1] ?? 0) * (1 - share) + (chances[next] ?? 0) * share;
}

/** Where hardening sets the date: as long as a wet line's deposit stays soft for longer, and nothing else comes first. */
function hardeningSpread(trend: LineOutlook | null, { hardening }: Pick<OwnerSettings, 'hardening'>): number {
  if (trend?.dueRule !== 'hardening' || trend.dueInDays === null) return 0;
  const longer = (hardening.softMonthsWet - hardening.softMonthsDry) * MONTH_DAYS;
  return Math.max(0, Math.min(longer, (trend.actionInDays ?? LONGEST_DAYS) - trend.dueInDays));
}

/** Time to the limit goes with 1/rate: T (e^g − e^−g), g the spread as far as the line's own readings have not settled it. */
function rateSpread(fact: AskedFact, trend: LineOutlook | null): number {
  if (!trend) return 0;
  const sd = Math.log(trend.rateQ90 / trend.rateQ10) / (2 * BAND_SDS);
  const unsettled = Math.min(1, (sd / UNREAD_LOG_SD) ** 2);
  const g = (LOG_RATE_SPREAD[fact] ?? 0) * unsettled;
  const days = Math.min(LONGEST_DAYS, Math.max(0, trend.actionInDays ?? LONGEST_DAYS));
  return days * (Math.exp(g) - Math.exp(-g));
}
