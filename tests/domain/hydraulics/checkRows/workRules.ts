import { businessZone } from '../../../../src/domain/calendar/businessZone.js';
import { addDays, daysBetween, type IsoDate, weekdayOf } from '../../../../src/domain/calendar/isoDate.js';
import { bucketFlow, isSoundFieldDrain } from '../../../../src/domain/hydraulics/bucketFlow.js';
import { type JetJob, planJet } from '../../../../src/domain/jetting/jetPlan.js';
import { nozzleFlowLps } from '../../../../src/domain/jetting/nozzle.js';
import { WEEKDAYS } from '../../../../src/domain/words.js';
import { isBusinessDay } from '../../../../src/domain/work/businessDays.js';
import { cautionsOf } from '../../../../src/domain/work/cautions.js';
import { LOCATE_TEMPLATES } from '../../../../src/domain/work/locateTemplates.js';
import { type LocateRule, ticketDays } from '../../../../src/domain/work/locateTicket.js';
import { type TrenchSeen, trenchFaults } from '../../../../src/domain/work/trenchRules.js';
import type { CheckGroup } from './checkRow.js';

/** Rules that state a datum are tested through what they do: where the answer turns is the number. */
function turnsAt(
  answer: (value: number) => boolean,
  low: number,
  high: number,
): { last: number; first: number } {
  let [below, above] = [low, high];
  if (answer(low) === answer(high))
    throw new RangeError(`the answer does not turn between ${low} and ${high}`);
  for (let i = 0; i < 60; i++) {
    const middle = (below + above) / 2;
    if (answer(middle) === answer(low)) below = middle;
    else above = middle;
  }
  return { last: below, first: above };
}

const FOOT_M = 0.3048;
const SEEN: TrenchSeen = {
  depthM: null,
  protection: 'none',
  exitWithinM: 1,
  spoilBackM: 1,
  oxygenPercent: null,
  waterGathers: false,
  signsOfCaveIn: false,
  slopeRatio: null,
  ladderAboveM: null,
};
const faulty = (code: string, seen: Partial<TrenchSeen>): boolean =>
  trenchFaults({ ...SEEN, ...seen }).some((fault) => fault.code === code);

/** A template with the owner's answers in what it does not say, as a confirmed rule has them. */
function ruleOf(code: string): LocateRule & { handDigMm: number | null } {
  const template = LOCATE_TEMPLATES.find((each) => each.code === code);
  if (!template) throw new RangeError(`no template ${code}`);
  return {
    notice: 2,
    noticeUnit: 'business_day',
    callDayCounts: false,
    life: null,
    lifeUnit: null,
    lifeFrom: 'call',
    lifeCountsFirst: false,
    startWithinDays: null,
    startWithinUnit: 'calendar_day',
    holidays: [],
    ...template,
  };
}
/** A Tuesday in a month without a holiday. */
const CALLED = { day: '2026-06-02', seconds: 36_000 };
const ZONE = businessZone('America/Chicago');
const CALLED_AT = ZONE.instantOf(CALLED.day, CALLED.seconds);
const days = (code: string) => ticketDays(ruleOf(code), CALLED_AT, ZONE, false);

/** The distance in the caution that a crew reads, in. */
function handDigInches(handDigMm: number | null): number {
  const caution = cautionsOf(['dig_and_replace'], { handDigMm }).find(({ code }) => code === 'hand_dig');
  return Number(/Within (\d+) in/.exec(caution?.text ?? '')?.[1]);
}

/** Full business days strictly between two days. */
function fullBusinessDays(from: IsoDate, to: IsoDate): number {
  let count = 0;
  for (let day = addDays(from, 1); day < to; day = addDays(day, 1)) if (isBusinessDay(day, [])) count++;
  return count;
}
const lifeFrom = (code: string, from: IsoDate): number => daysBetween(from, days(code).lastDay ?? from);

const NOZZLE: JetJob['nozzle'] = {
  rear: { count: 6, boreMm: 2, angleFromAxisDeg: 20 },
  front: null,
  coefficient: 0.95,
  diameterMm: 25,
  rigidLengthMm: 160,
};
/** Findings of jetting a slotted drain with a flow. */
function findings(flowLps: number, nozzle = NOZZLE): string[] {
  const got = planJet({
    pipe: { material: 'pvc', condition: 'sound', perforated: true, boreMm: 100, lengthM: 10, bends: [] },
    occlusion: 0.3,
    residue: 0.05,
    deposit: 'gel',
    machine: { pressureKpa: 8000, flowLps },
    hose: { lengthM: 20, lossCoefficient: 1, weightNPerM: 3, drag: 0.4 },
    nozzle,
  });
  if (!got.ok) throw new RangeError(got.faults.map(({ text }) => text).join('; '));
  return got.plan.findings.map(({ code }) => code);
}

export const workRuleRows: readonly CheckGroup[] = [
  {
    source: '29 CFR 1926.652(a)(1), app. F',
    rows: [
      [
        'SAF-01',
        5,
        'lt',
        () => turnsAt((ft) => faulty('no_protection', { depthM: ft * FOOT_M }), 1, 10).last,
      ],
      [
        'SAF-07',
        20,
        'gt',
        () =>
          turnsAt((ft) => faulty('engineer_needed', { depthM: ft * FOOT_M, protection: 'shored' }), 10, 30)
            .first,
      ],
    ],
  },
  {
    source: '29 CFR 1926.651(c)(2), (j)(2), (g)(1)',
    rows: [
      [
        'SAF-03',
        4,
        'ge',
        () =>
          turnsAt(
            (ft) => faulty('no_exit', { depthM: ft * FOOT_M, exitWithinM: null, protection: 'shored' }),
            1,
            10,
          ).first,
      ],
      [
        'SAF-04',
        25,
        'le',
        () =>
          turnsAt(
            (ft) => faulty('no_exit', { depthM: 2, exitWithinM: ft * FOOT_M, protection: 'shored' }),
            1,
            50,
          ).last,
      ],
      [
        'SAF-05',
        2,
        'ge',
        () => turnsAt((ft) => faulty('spoil_too_near', { spoilBackM: ft * FOOT_M }), 0, 5).first,
      ],
      [
        'SAF-08',
        19.5,
        'ge',
        () => turnsAt((percent) => faulty('little_oxygen', { oxygenPercent: percent }), 10, 21).first,
      ],
    ],
  },
  {
    source: '29 CFR 1926.652(b)(1)(i)',
    rows: [
      [
        'SAF-02',
        1.5,
        'ge',
        () =>
          turnsAt(
            (ratio) => faulty('too_steep', { depthM: 2, protection: 'sloped', slopeRatio: ratio }),
            0.5,
            3,
          ).first,
      ],
    ],
  },
  {
    source: '29 CFR 1926.1053(b)(1)',
    rows: [
      [
        'SAF-06',
        3,
        'ge',
        () =>
          turnsAt(
            (ft) => faulty('ladder_short', { depthM: 2, protection: 'shored', ladderAboveM: ft * FOOT_M }),
            0,
            6,
          ).first,
      ],
    ],
  },
  {
    source: '29 CFR 1926.651(b)(2)',
    rows: [['SAF-09', 24, 'ge', () => (days('us_default').from.getTime() - CALLED_AT.getTime()) / 3_600_000]],
  },
  {
    source: 'state one-call centres and statutes',
    rows: [
      ['LOC-01', 3, 'ge', () => fullBusinessDays(CALLED.day, days('michigan').firstDay)],
      ['LOC-02', 48, 'abs:0.001', () => handDigInches(ruleOf('michigan').handDigMm)],
      [
        'LOC-03',
        48,
        'ge',
        () =>
          fullBusinessDays(CALLED.day, days('minnesota').firstDay) * 24 +
          (days('minnesota').from.getTime() - ZONE.instantOf(days('minnesota').firstDay, 0).getTime()) /
            3_600_000,
      ],
      ['LOC-04', 14, 'le', () => daysBetween(CALLED.day, days('minnesota').beginBy ?? '')],
      ['LOC-05', 17, 'le', () => lifeFrom('nebraska', days('nebraska').firstDay)],
      // counting the call day
      ['LOC-06', 28, 'le', () => lifeFrom('illinois', CALLED.day) + 1],
      ['LOC-07', 3, 'ge', () => fullBusinessDays(CALLED.day, days('south_carolina').firstDay)],
      [
        'LOC-08',
        15,
        'le',
        () =>
          // its first day is one of them
          fullBusinessDays(
            addDays(days('south_carolina').firstDay, -1),
            addDays(days('south_carolina').lastDay ?? '', 1),
          ),
      ],
      ['LOC-09', 2, 'ge', () => fullBusinessDays(CALLED.day, days('alabama').firstDay)],
      ['LOC-10', 20, 'le', () => fullBusinessDays(CALLED.day, addDays(days('alabama').lastDay ?? '', 1))],
    ],
  },
  {
    source: 'worked example of an electric cooperative: two full working days after a Tuesday call',
    // Friday is the sixth of the week that begins on Sunday
    rows: [['LOC-11', 5, 'abs:0', () => WEEKDAYS.indexOf(weekdayOf(days('alabama').firstDay))]],
  },
  {
    source: 'Connected Water (Australia), volumetric method; VND (Dutch drainage contractors), maintenance',
    rows: [
      ['FLD-05', 3, 'ge', () => turnsAt((seconds) => bucketFlow(5, seconds).usable, 1, 10).first],
      ['FLD-07', 7, 'ge', () => turnsAt((mm) => isSoundFieldDrain(mm), 1, 20).first],
    ],
  },
  {
    source: 'VND (Dutch drainage contractors), drain jetters',
    rows: [
      [
        'LIM-07',
        10,
        'abs:1e-6',
        () =>
          turnsAt((bar) => findings(nozzleFlowLps(NOZZLE, bar * 100)).includes('little-pressure'), 4, 11)
            .first,
      ],
      [
        'LIM-09',
        70,
        'ge',
        () => turnsAt((perMinute) => findings(perMinute / 60).includes('little-water'), 30, 100).first + 1e-9,
      ],
    ],
  },
];
