import type { TrenchProtection } from '../words.js';

const FOOT_M = 0.3048;

/**
 * Numbers of 29 CFR 1926 subpart P (text as published by training bodies), US; local codes govern, and a competent
 * person decides on site.
 */
export const TRENCH = {
  /** From it on a protective system, unless stable rock: 1926.652(a)(1). */
  protectFromM: 5 * FOOT_M,
  /** Default slope, horizontal to vertical: 1926.652(b)(1)(i). */
  defaultSlope: 1.5,
  /** From it on a ladder or ramp: 1926.651(c)(2). */
  exitFromM: 4 * FOOT_M,
  exitWithinM: 25 * FOOT_M,
  /** Spoil and gear back from the edge: 1926.651(j)(2). */
  spoilBackM: 2 * FOOT_M,
  /** Ladder above the lip: 1926.1053(b)(1). */
  ladderAboveM: 3 * FOOT_M,
  /** Beyond it a registered engineer designs the system: 1926.652 app. F. */
  engineerBeyondM: 20 * FOOT_M,
  /** Air tested over 4 ft where it may be bad: 1926.651(g)(1). */
  leastOxygenPercent: 19.5,
} as const;

export interface TrenchSeen {
  /** Null: not opened yet. */
  depthM: number | null;
  protection: TrenchProtection;
  exitWithinM: number | null;
  spoilBackM: number | null;
  oxygenPercent: number | null;
  waterGathers: boolean;
  signsOfCaveIn: boolean;
  /** Of a sloped trench, horizontal over vertical. */
  slopeRatio: number | null;
  ladderAboveM: number | null;
}

/** Why nobody goes into the trench; empty: the check passed. */
export function trenchFaults(seen: TrenchSeen): { code: string; text: string; source: string }[] {
  const faults: { code: string; text: string; source: string }[] = [];
  const fault = (code: string, text: string, source: string) => faults.push({ code, text, source });
  if (seen.waterGathers)
    fault('water_gathers', 'water gathers in the trench: nobody enters', '29 CFR 1926.651(h)(1)');
  if (seen.signsOfCaveIn && seen.protection !== 'shored' && seen.protection !== 'shielded')
    fault('signs_of_cave_in', 'signs of cave-in without shoring or shield', '29 CFR 1926.652(a)(1)');
  if (seen.oxygenPercent !== null && seen.oxygenPercent < TRENCH.leastOxygenPercent)
    fault(
      'little_oxygen',
      `oxygen ${seen.oxygenPercent} %: at least ${TRENCH.leastOxygenPercent} %`,
      '29 CFR 1926.651(g)(1)',
    );
  if (seen.spoilBackM !== null && seen.spoilBackM < TRENCH.spoilBackM)
    fault(
      'spoil_too_near',
      'spoil and gear at least 2 ft (.61 m) back from the edge',
      '29 CFR 1926.651(j)(2)',
    );
  if (seen.depthM === null) return faults;
  faults.push(...unsaid(seen, seen.depthM));
  const steep = seen.slopeRatio !== null && seen.slopeRatio < TRENCH.defaultSlope;
  if (seen.protection === 'sloped' && steep && seen.depthM >= TRENCH.protectFromM)
    fault(
      'too_steep',
      `sloped ${seen.slopeRatio} to 1: at least 1.5 to 1, horizontal to vertical, where no soil was classified`,
      '29 CFR 1926.652(b)(1)(i)',
    );
  if (
    seen.depthM >= TRENCH.exitFromM &&
    seen.ladderAboveM !== null &&
    seen.ladderAboveM < TRENCH.ladderAboveM
  )
    fault('ladder_short', 'the ladder stands 3 ft (.91 m) above the lip', '29 CFR 1926.1053(b)(1)');
  if (seen.depthM >= TRENCH.protectFromM && seen.protection === 'none')
    fault(
      'no_protection',
      'from 5 ft (1.52 m) a protective system: sloped 1.5 to 1, shored or shielded',
      '29 CFR 1926.652(a)(1), (b)(1)',
    );
  if (seen.depthM >= TRENCH.exitFromM && (seen.exitWithinM === null || seen.exitWithinM > TRENCH.exitWithinM))
    fault('no_exit', 'from 4 ft (1.22 m) a ladder or ramp within 25 ft (7.6 m)', '29 CFR 1926.651(c)(2)');
  if (seen.depthM > TRENCH.engineerBeyondM)
    fault(
      'engineer_needed',
      'beyond 20 ft (6.1 m) a registered engineer designs the system',
      '29 CFR 1926.652 app. F',
    );
  return faults;
}

/** What a check of a trench so deep must say, and does not. */
function unsaid(seen: TrenchSeen, depthM: number): ReturnType<typeof trenchFaults> {
  const faults: ReturnType<typeof trenchFaults> = [];
  if (depthM >= TRENCH.protectFromM && seen.protection === 'sloped' && seen.slopeRatio === null)
    faults.push({
      code: 'slope_unsaid',
      text: 'how it is sloped is not said: slopeRatio, horizontal to vertical, at least 1.5',
      source: '29 CFR 1926.652(b)(1)(i)',
    });
  if (depthM < TRENCH.exitFromM) return faults;
  if (seen.spoilBackM === null)
    faults.push({
      code: 'spoil_unsaid',
      text: 'how far spoil and gear lie back from the edge is not said: spoilBack, at least 2 ft (.61 m)',
      source: '29 CFR 1926.651(j)(2)',
    });
  if (seen.oxygenPercent === null)
    faults.push({
      code: 'air_unsaid',
      text: `from 4 ft (1.22 m) the air is tested before anybody enters: oxygenPercent, at least ${TRENCH.leastOxygenPercent}`,
      source: '29 CFR 1926.651(g)(1); asked of every trench so deep: common practice, no source',
    });
  return faults;
}

export interface CheckOnRecord {
  checkedAtMs: number;
  /** Day of the business it was made on. */
  day: string;
  passed: boolean;
  /** Null: it was not opened yet. */
  depthM: number | null;
}

/** When a check is asked to hold. */
export interface TrenchMoment {
  atMs: number;
  /** Day of the business. */
  day: string;
  /** When the visit began; null: it has not. */
  startedMs: number | null;
  /** Last end of rain there up to now; null: none. */
  lastRainMs: number | null;
}

export interface TrenchFault {
  code: string;
  text: string;
  source: string;
}

/** Why a trench is left until it was checked again though its check passed: rain, or another shift; null: it holds. */
export function checkLapsed(
  { checkedAtMs, day }: Pick<CheckOnRecord, 'checkedAtMs' | 'day'>,
  { atMs, day: today, startedMs, lastRainMs }: TrenchMoment,
): TrenchFault | null {
  const source = '29 CFR 1926.651(k)(1)';
  if (lastRainMs !== null && lastRainMs <= atMs && lastRainMs > checkedAtMs)
    return {
      code: 'rain_since_check',
      text: `it rained until ${new Date(lastRainMs).toISOString()}, after the last check: out of the trench until a competent person checked it again`,
      source: `${source}: after every rainstorm`,
    };
  // A night shift goes on over midnight.
  const isSameShift = day === today || (startedMs !== null && atMs - startedMs <= SHIFT_MS);
  return isSameShift
    ? null
    : {
        code: 'other_shift',
        text: `last checked on ${day}: out of the trench until a competent person checked it in this shift`,
        source: `${source}: before each shift`,
      };
}

/**
 * Whether a dig may go under way: the newest check is of this shift's day, passed, and younger than the last rain. One
 * from before the opening does for the opening only: once a check said a depth, the newest must say one too.
 */
export function trenchCheckHolds(
  checks: readonly CheckOnRecord[],
  day: string,
  startMs: number,
  lastRainMs: number | null,
): boolean {
  const newest = checks
    .filter(({ checkedAtMs }) => checkedAtMs <= startMs)
    .reduce<CheckOnRecord | null>(
      (last, check) => (last && last.checkedAtMs >= check.checkedAtMs ? last : check),
      null,
    );
  if (newest === null || !newest.passed) return false;
  if (newest.depthM === null && checks.some(({ depthM }) => depthM !== null)) return false;
  return checkLapsed(newest, { atMs: startMs, day, startedMs: null, lastRainMs }) === null;
}

/**
 * Whether a dig that was open may end: somebody saw the trench open on this visit, in its last shift and after the
 * last rain, and the last to see it passed it.
 * Only a trench known to stay shallower than where rules begin needs no second look.
 *
 * @param deepestM How deep it was dug, else traced to be, m; null: unknown.
 */
export function wasCheckedOpen(
  checks: readonly CheckOnRecord[],
  end: TrenchMoment & { startedMs: number },
  deepestM: number | null,
): boolean {
  const last = checks
    .filter(({ checkedAtMs }) => checkedAtMs <= end.atMs)
    .sort((a, b) => b.checkedAtMs - a.checkedAtMs)[0];
  if (last && checkLapsed(last, end) !== null) return false;
  if (last?.depthM == null) return deepestM !== null && deepestM < TRENCH.exitFromM;
  if (deepestM !== null && deeperThanChecked(deepestM, last.depthM) !== null) return false;
  const isOfVisit = last.checkedAtMs >= end.startedMs - SHIFT_MS;
  return last.passed && isOfVisit;
}

/** A depth read off a tape may be so much more than the one checked (common practice, no source). */
const TAPE_M = 0.1;

/** Depths at which another rule begins. */
const RULE_DEPTHS_M = [TRENCH.exitFromM, TRENCH.protectFromM, TRENCH.engineerBeyondM];

/**
 * Why a trench that is now so deep is checked again before anybody goes on; null: the check still holds.
 *
 * @param checkedM Depth at the last check that passed; null: it was not open then.
 */
export function deeperThanChecked(depthM: number, checkedM: number | null): TrenchFault | null {
  const crossed = RULE_DEPTHS_M.some((ruleM) => (checkedM ?? 0) < ruleM && depthM >= ruleM);
  const isDeeper = checkedM === null ? depthM >= TRENCH.exitFromM : depthM > checkedM + TAPE_M;
  if (!crossed && !isDeeper) return null;
  const was = checkedM === null ? 'before it was opened' : `at ${checkedM.toFixed(2)} m`;
  return {
    code: 'deeper_than_checked',
    text: `dug to ${depthM.toFixed(2)} m, checked ${was}: out of the trench until a competent person checked it again`,
    source: '29 CFR 1926.651(k)(1): as needed throughout the shift',
  };
}

/** A check before the start is of the same shift when it is not older than so (common practice, no source). */
const SHIFT_MS = 12 * 3_600_000;
