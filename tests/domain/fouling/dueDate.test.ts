import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { addDays, dayNumber, isoDate } from '../../../src/domain/calendar/isoDate.js';
import { dueDate } from '../../../src/domain/fouling/dueDate.js';
import type { DueDateInput } from '../../../src/domain/fouling/dueDateInput.js';
import { startReason } from '../../../src/domain/fouling/dueDateReason.js';
import { DEFAULT_SETTINGS, settingsWith } from '../../../src/domain/work/settings.js';
import { cleanedOn, lineOf, quietLine } from './knownLines.js';

const TODAY = '2026-06-01';
const history = cleanedOn(TODAY);
const codes = (due: ReturnType<typeof dueDate>) => due.reasons.map(({ code }) => code);
const candidate = (due: ReturnType<typeof dueDate>, rule: string) => {
  const day = due.candidates.find((each) => each.rule === rule)?.day;
  return typeof day === 'number' ? isoDate(day) : day;
};

describe('first intervals, from the day of the last clean', () => {
  test.each([
    ['known', 90],
    ['unknown', 180],
    ['none_seen', 365],
  ] as const)('ochre %s: %d days', (ochre, days) => {
    const due = dueDate(quietLine({ ochre, staysWet: true }));
    expect([due.rule, due.dueOn, due.intervalDays]).toEqual(['first_interval', addDays(TODAY, days), days]);
  });

  test('where the soil is unknown somebody looks after 90 of the 180 days, once', () => {
    expect(dueDate(quietLine({ ochre: 'unknown' })).lookOn).toBe(addDays(TODAY, 90));
    const seen = { ...history, lookedAtSinceClean: true };
    expect(dueDate(quietLine({ ochre: 'unknown', history: seen })).lookOn).toBeNull();
    expect(dueDate(quietLine({ ochre: 'known' })).lookOn).toBeNull();
  });

  test('a line never known clean counts from the day it entered the books, not from tonight', () => {
    const never = { ...history, cleanSinceDay: null, lastClean: null };
    const due = dueDate(
      quietLine({ ochre: 'unknown', history: never, bookedSinceDay: dayNumber('2026-03-01') }),
    );
    expect(due.dueOn).toBe('2026-08-28'); // 1 March + 180 days
  });

  test.each([
    [0, 30],
    [1, 60],
    [2, 90],
  ])('opened after a plug, %d cleans since: %d days', (cleansSinceReopened, days) => {
    const due = dueDate(quietLine({ history: { ...history, cleansSinceReopened } }));
    expect([due.rule, due.dueOn]).toEqual(['after_plug', addDays(TODAY, days)]);
  });

  test('the fourth interval after a plug is an ordinary one', () => {
    expect(dueDate(quietLine({ history: { ...history, cleansSinceReopened: 3 } })).rule).toBe(
      'first_interval',
    );
  });

  test('cleaned from over half, or more than .20 left: recheck at 30 days, until somebody looked', () => {
    const from = (occlusionBefore: number, residue: number, lookedAtSinceClean = false) =>
      dueDate(
        quietLine({
          history: {
            ...history,
            lookedAtSinceClean,
            lastClean: {
              day: dayNumber(TODAY),
              occlusionBefore,
              beforeIsDoubted: false,
              beforeIsHigh: false,
              plugged: false,
              residue,
            },
          },
        }),
      );
    expect([from(0.51, 0).rule, from(0.51, 0).dueOn]).toEqual(['recheck', addDays(TODAY, 30)]);
    expect([from(0.1, 0.21).rule, from(0.1, 0.21).dueOn]).toEqual(['recheck', addDays(TODAY, 30)]);
    expect(from(0.5, 0.2).rule).toBe('first_interval');
    expect(from(0.6, 0.3, true).rule).toBe('first_interval');
  });

  test('found plugged and not opened since: due since that day, however slow the line is believed to be', () => {
    const due = dueDate(
      quietLine({ history: { ...history, pluggedSinceDay: dayNumber(TODAY) - 1, lookedAtSinceClean: true } }),
    );
    expect([due.rule, due.dueOn]).toEqual(['over_limit', addDays(TODAY, -1)]);
    expect(due.reasons[0]?.text).toContain('Found plugged, and no clean since is on record');
    // Shown as plugged: chances of a line that runs are no reasons of this one.
    expect(due.chances).toEqual({ plugWithinYear: 1, plugByDue: 1, actionByDue: 1, actionWithin30Days: 1 });
    expect(due.reasons.map(({ code }) => code)).toEqual(['over_limit']);
  });

  test('a plug in doubt is named, and holds the day while it is not opened or is counted from', () => {
    const doubtedPlugs = [{ id: 'p', day: dayNumber(TODAY) - 1 }];
    const holds = (more: Partial<typeof history>) =>
      dueDate(quietLine({ history: { ...history, doubtedPlugs, ...more } })).reasons.find(
        ({ code }) => code === 'doubted_reading',
      )?.facts;
    const facts = { inspectionId: 'p', occlusion: 1, on: '2026-05-31' };
    expect(holds({ pluggedSinceDay: dayNumber(TODAY) - 1 })).toEqual({ ...facts, holdsDate: true });
    expect(holds({ cleansSinceReopened: 0 })).toEqual({ ...facts, holdsDate: true });
    expect(holds({})).toEqual({ ...facts, holdsDate: false });
  });

  test('cleaned and no water seen to run: looked at within 30 days of the first such clean, never later than before', () => {
    const day = dayNumber(TODAY) - 10;
    const long = { ...history, cleanSinceDay: dayNumber(TODAY) - 40 };
    const with_ = (more: Partial<typeof history>, noFlowDay = day) =>
      dueDate(quietLine({ noFlowDay, history: { ...long, ...more } }));
    const due = with_({ lookedOnDay: day });
    expect([due.rule, due.dueOn]).toEqual(['recheck', addDays(TODAY, 20)]);
    expect(due.reasons[0]?.text).toBe(
      'Cleaned on 2026-05-22, water was not seen to run: it counts as no clean; look again within 30 days: 2026-06-21.',
    );
    expect(due.reasons.map(({ code }) => code)).not.toContain('no_flow');
    // Due sooner anyhow: the day stays, and a reason says it.
    const plugged = with_({ pluggedSinceDay: day - 1, lookedAtSinceClean: true });
    expect(plugged.dueOn).toBe('2026-05-21');
    expect(plugged.reasons.find(({ code }) => code === 'no_flow')?.text).toBe(
      'Cleaned on 2026-05-22, water was not seen to run: it counts as no clean.',
    );
    // Looked at on a later day, or cleaned well since: the look was had.
    expect(with_({ lookedOnDay: day + 1 }).rule).toBe('first_interval');
    expect(with_({ lookedOnDay: day + 1 }).reasons.map(({ code }) => code)).toContain('no_flow');
    expect(with_({ cleanSinceDay: day + 1 }).reasons.map(({ code }) => code)).not.toContain('no_flow');
  });

  test('stopped by roots: the date of deposit stays, and a reason says that no water runs', () => {
    const stopped = { day: dayNumber(TODAY) - 1, cause: 'roots' as const };
    const due = dueDate(quietLine({ history: { ...history, stopped } }));
    expect(due.dueOn).toBe(dueDate(quietLine()).dueOn);
    expect(due.reasons.find(({ code }) => code === 'stopped')).toEqual({
      code: 'stopped',
      facts: { cause: 'roots', since: '2026-05-31' },
      text:
        'Found stopped by roots on 2026-05-31, and nobody opened it since is on record: no water runs. ' +
        'An order of its own is for that; this date and its chances are of deposit alone.',
    });
  });

  test('much found that does not fit the line: somebody looks within 30 days of it; the worse reading is never the later day', () => {
    const doubtedHigh = { day: dayNumber(TODAY) - 10, occlusion: 0.7 };
    const due = dueDate(quietLine({ history: { ...history, doubtedHigh, lookedAtSinceClean: true } }));
    expect([due.rule, due.dueOn]).toEqual(['recheck', addDays(TODAY, 20)]);
    expect(due.reasons[0]?.text).toContain('70 % blocked was found and does not fit the line');
  });
});

describe('what was found before the forecast believed it', () => {
  const DAY = dayNumber(TODAY);
  const passed = (days: number, more: object = {}) => ({
    foundDay: DAY - 100,
    occlusion: 0.5,
    sureBy: null,
    intervalDays: 20,
    from: 'clean' as const,
    days,
    ...more,
  });
  const find = (occlusion: number, ago: number, sureBy: 'person' | 'second_look' = 'person') => ({
    id: 'r',
    method: 'camera' as const,
    occlusion,
    standardError: 0.05,
    bound: 'exact' as const,
    sureBy,
    doubted: false,
    high: false,
    day: DAY - ago,
  });

  test('an interval that ended past the action limit: the next is no longer than the shortest by which it was reached', () => {
    const due = dueDate(
      quietLine({ history: { ...history, passedLimit: [passed(40), passed(18), passed(30)] } }),
    );
    expect([due.rule, due.intervalDays]).toEqual(['limit_passed', 18]);
    expect(due.reasons[0]?.text).toBe(
      'Found 50 % blocked on 2026-02-21, 20 days after a clean: it was past 45 % after 18 days by straight growth, ' +
        'and no interval as long has ended well since: 2026-06-19.',
    );
    const plug = dueDate(
      quietLine({ history: { ...history, passedLimit: [passed(18, { occlusion: null })] } }),
    );
    expect(plug.reasons[0]?.text).toContain('Found plugged on 2026-02-21');
    const laid = dueDate(quietLine({ history: { ...history, passedLimit: [passed(18, { from: 'laid' })] } }));
    expect(laid.reasons[0]?.text).toContain('20 days after it was laid: it was past');
  });
  test('a line just cleaned is left alone for two weeks all the same', () => {
    expect(dueDate(quietLine({ history: { ...history, passedLimit: [passed(1)] } })).intervalDays).toBe(14);
  });

  test('confirmed past the action limit and not cleaned since: due at once, whatever the forecast makes of it', () => {
    const due = dueDate(quietLine({ history: { ...history, certainFind: find(0.7, 5) } }));
    expect([due.rule, due.dueOn]).toEqual(['over_limit', addDays(TODAY, -5)]);
    expect(due.reasons[0]?.text).toBe(
      '70 % blocked was found on 2026-05-27, confirmed by a person, and no clean since is on record: due at once: 2026-05-27.',
    );
    const looks = dueDate(quietLine({ history: { ...history, certainFind: find(0.7, 5, 'second_look') } }));
    expect(looks.reasons[0]?.text).toContain('borne out by a second look');
  });
  test('confirmed just below it: on the day straight growth since the clean takes it there', () => {
    // cleaned 80 days ago, .42 found 5 days ago: 75 × .45 / .42 = 80.4 days after the clean, so today
    const cleaned = { ...history, cleanSinceDay: DAY - 80 };
    const due = dueDate(quietLine({ history: { ...cleaned, certainFind: find(0.42, 5) } }));
    expect([due.rule, due.dueOn]).toEqual(['over_limit', TODAY]);
    expect(dueDate(quietLine({ history: { ...cleaned, certainFind: find(0.3, 5) } })).rule).toBe(
      'first_interval',
    );
  });

  test('half the limit found in doubt is looked at again in 30 days, cleaned or not; less is not', () => {
    const seen = (occlusion: number) =>
      dueDate(
        quietLine({
          history: { ...history, doubtedHigh: { day: DAY, occlusion }, lookedAtSinceClean: true },
        }),
      );
    expect([seen(0.36).rule, seen(0.36).intervalDays]).toEqual(['recheck', 30]);
    expect(seen(0.22).rule).toBe('first_interval');
    const from = (occlusionBefore: number) => {
      const lastClean = { day: DAY, occlusionBefore, beforeIsDoubted: true, plugged: false, residue: null };
      return dueDate(quietLine({ history: { ...history, lastClean: { ...lastClean, beforeIsHigh: true } } }));
    };
    expect(from(0.4).reasons[0]?.text).toContain('Last cleaned from 40 % blocked, which is in doubt');
    expect(from(0.22).rule).toBe('first_interval');
  });

  test('each reading in doubt is named, and whether the day stands on it', () => {
    const reading = { ...find(0.7, 5), sureBy: null, doubted: true, high: true, left: false };
    const left = { ...reading, id: 's', occlusion: 0.96, left: true };
    const due = dueDate(
      quietLine({
        history: {
          ...history,
          doubtedHigh: { day: DAY - 5, occlusion: 0.7 },
          doubtedReadings: [reading, left],
        },
      }),
    );
    const named = due.reasons.filter(({ code }) => code === 'doubted_reading');
    expect(named.map(({ facts }) => [facts['inspectionId'], facts['holdsDate']])).toEqual([
      ['r', true],
      ['s', false],
    ]);
    expect(named[0]?.text).toBe(
      '70 % blocked, found on 2026-05-27, does not fit the line and is in doubt until somebody confirms or dismisses it.',
    );
    expect(named[1]?.text).toContain('96 % blocked, read after the clean of 2026-05-27,');
  });

  test('a line looked at and good, never cleaned: its first interval runs from the look', () => {
    const never = { ...history, cleanSinceDay: null, lastClean: null, seenSinceDay: DAY - 30 };
    const due = dueDate(quietLine({ history: never, bookedSinceDay: DAY - 1800 }));
    expect([due.rule, due.dueOn]).toEqual(['first_interval', addDays(TODAY, 335)]);
  });
});

test('a told change: what was proven serves to that day, the deposit stays, and the reason names it', () => {
  const toldChange = { day: dayNumber('2026-05-20'), cause: 'new_pump' as const };
  const long = { ...cleanedOn('2026-01-01'), wetSeasonSeen: false, toldChange };
  const provenToDay = dayNumber('2026-05-20');
  // 139 days instead of the 90 of its soil, which were over on 1 April: nobody was late before the change.
  const due = dueDate(quietLine({ ochre: 'known', staysWet: true, history: { ...long, provenToDay } }));
  expect(candidate(due, 'first_interval')).toBe('2026-05-20');
  expect(due.reasons).toContainEqual({
    code: 'told_change',
    facts: { cause: 'new_pump', on: '2026-05-20' },
    text: 'New pump told on 2026-05-20: how fast it fouls is taken as half forgotten; what lies in the line stays.',
  });
  const first = dueDate(
    quietLine({ ochre: 'known', staysWet: true, history: { ...long, provenToDay: dayNumber('2026-01-01') } }),
  );
  expect(candidate(first, 'first_interval')).toBe('2026-04-01');
});

describe('growth of an interval', () => {
  test('at most 1.5 times the longest that ended in a reading found good: 120 days, then 180', () => {
    const due = dueDate(
      quietLine({ ochre: 'known', staysWet: true, history: { ...history, longestGoodDays: 120 } }),
    );
    expect([due.rule, due.intervalDays]).toEqual(['growth', 180]);
    expect(due.reasons[0]?.text).toBe(
      'The longest interval that ended well was 120 days; the running one, from 2026-06-01, may take at most 1.5 times that, 180 days: 2026-11-28.',
    );
  });
  test('not at all before one wet season was seen', () => {
    const dry = { ...history, longestGoodDays: 120, wetSeasonSeen: false };
    const due = dueDate(quietLine({ ochre: 'known', staysWet: true, history: dry }));
    expect(due.intervalDays).toBe(120);
    expect(due.reasons[0]?.text).toBe(
      'The longest interval that ended well was 120 days; the running one, from 2026-06-01, may take no longer until readings span a whole wet season (1 Mar to 31 May): 2026-09-29.',
    );
  });
  describe('of a line laid long before anybody looked', () => {
    const DAY = dayNumber(TODAY);
    const laidGood = (days: number, foundDay = DAY) => ({ days, foundDay, from: 'laid' as const });
    const due = (more: Partial<typeof history>, ochre: 'known' | 'unknown' | 'none_seen' = 'known') =>
      dueDate(quietLine({ ochre, staysWet: true, history: { ...history, ...more } }));

    test.each([
      ['known', 135],
      ['unknown', 270],
      ['none_seen', 547],
    ] as const)('700 days untouched, ochre %s: one step over the first interval, %d days', (ochre, days) => {
      const growth = due({ laidGood: laidGood(700) }, ochre).candidates.find(({ rule }) => rule === 'growth');
      expect(growth?.day).toBe(DAY + days);
    });
    test('the reason says why no more', () => {
      const { rule, reasons } = due({ laidGood: laidGood(700) });
      expect([rule, reasons[0]?.text]).toEqual([
        'growth',
        'Found good on 2026-06-01, 700 days after it was laid and never cleaned till then; the interval from 2026-06-01 may take at most 1.5 times the first interval of its soil, 135 days: 2026-10-14.',
      ]);
    });
    test('before a wet season was seen it takes the first interval', () => {
      expect(due({ laidGood: laidGood(120), wetSeasonSeen: false }).rule).toBe('first_interval');
    });
    test('a span no longer than the first interval counts as any other: 80 days, then 120', () => {
      const short = due({ laidGood: laidGood(80) });
      expect([short.rule, short.intervalDays]).toEqual(['growth', 120]);
      expect(short.reasons[0]?.text).toContain('The longest interval that ended well was 80 days');
    });
    test('an interval the service ruled lifts it: 135 days found good, then 202', () => {
      const ruled = due({ laidGood: laidGood(700, DAY - 135), longestGoodDays: 135 }, 'unknown');
      // Soil unknown: the span alone gives 180 × 1.5 = 270 still.
      expect(candidate(ruled, 'growth')).toBe(addDays(TODAY, 270));
      expect(candidate(due({ laidGood: laidGood(700, DAY - 135), longestGoodDays: 135 }), 'growth')).toBe(
        addDays(TODAY, 202),
      );
    });
    test('looked at and not cleaned, it counts from the look, but never beyond 1.5 times the span', () => {
      const looked = (days: number) =>
        candidate(
          due(
            {
              cleanSinceDay: DAY - days,
              lastClean: null,
              laidGood: laidGood(days),
              lookedAtSinceClean: true,
            },
            'none_seen',
          ),
          'growth',
        );
      // 1200 days: 365 × 1.5 from the look, not 600 by half the span; 400: half of it, 200.
      expect(looked(1200)).toBe(addDays(TODAY, 547));
      expect(looked(400)).toBe(addDays(TODAY, 200));
    });
  });
  test('never beyond the longest interval: 1.5 × 600 = 900, but 730', () => {
    const due = dueDate(quietLine({ history: { ...history, longestGoodDays: 600 } }));
    expect([due.rule, due.intervalDays]).toEqual(['max_interval', 730]);
  });
});

describe('what asks for a visit', () => {
  const longProven = { ...history, longestGoodDays: 600 };

  test('ochre hardens: 6 months where the line stays wet, 3 where it dries out or nobody knows', () => {
    // 6 × 365.25 / 12 = 182.6, 3 × 365.25 / 12 = 91.3
    const on = (staysWet: boolean | null) => {
      const due = dueDate(quietLine({ ochre: 'known', staysWet, history: longProven }));
      return [due.rule, due.intervalDays];
    };
    expect(on(true)).toEqual(['hardening', 183]);
    expect(on(false)).toEqual(['hardening', 91]);
    expect(on(null)).toEqual(['hardening', 91]);
  });

  test('the reason says whether the line stays wet, and when that is assumed', () => {
    const text = (staysWet: boolean | null) =>
      dueDate(quietLine({ ochre: 'known', staysWet, history: longProven })).reasons[0]?.text;
    expect(text(true)).toBe('Ochre hardens 183 days after a clean in a line that stays wet: 2026-12-01.');
    expect(text(null)).toBe(
      'Ochre hardens 91 days after a clean in a line that dries out (assumed): 2026-08-31.',
    );
    const neverCleaned = { ...longProven, lastClean: null };
    expect(dueDate(quietLine({ ochre: 'known', history: neverCleaned })).reasons[0]?.text).toBe(
      'Ochre hardens 91 days after it was laid in a line that dries out (assumed): 2026-08-31.',
    );
  });

  test('a line just cleaned is left alone for two weeks, however doubtful the clean', () => {
    // sd .4: a tenth of the belief is past the plug limit on the day of the clean
    const doubtful = dueDate(quietLine({ forecast: lineOf(0.35, 0.0005, 0.3, TODAY, 0.4) }));
    expect(doubtful.chances.plugWithinYear).toBeGreaterThan(0.1);
    expect([doubtful.rule, doubtful.dueOn]).toEqual(['risk', addDays(TODAY, 14)]);
  });

  test('care terms: two visits a year are 182 days, and terms that ended promise nothing', () => {
    const terms = { intervalDays: null, visitsPerYear: 2, fromDay: dayNumber('2026-01-01'), toDay: null };
    const due = dueDate(quietLine({ careTerms: terms }));
    expect([due.rule, due.dueOn]).toEqual(['care_terms', addDays(TODAY, 182)]);
    const ended = { ...terms, toDay: dayNumber('2026-10-01') };
    expect(dueDate(quietLine({ careTerms: ended })).rule).toBe('first_interval');
  });

  test('care terms: a line never cleaned counts from the day it came into the books, or from when they begin', () => {
    const terms = { intervalDays: 60, visitsPerYear: null, fromDay: dayNumber('2026-01-01'), toDay: null };
    const never = { ...history, cleanSinceDay: null, lastClean: null };
    const due = (bookedOn: string, fromDay = terms.fromDay) =>
      dueDate(
        quietLine({
          history: never,
          bookedSinceDay: dayNumber(bookedOn),
          careTerms: { ...terms, fromDay },
        }),
      );
    const found = due('2026-05-31');
    expect([found.rule, found.dueOn, found.intervalDays]).toEqual(['care_terms', '2026-07-30', 60]);
    // 1 May and 60 days: the terms began after the line came in.
    expect(due('2026-01-15', dayNumber('2026-05-01')).dueOn).toBe('2026-06-30');
  });

  test('a line thought to be past its action limit is due now', () => {
    const due = dueDate(quietLine({ forecast: lineOf(0.5, 0.0005, 0.1) }));
    expect([due.rule, due.dueOn]).toEqual(['over_limit', TODAY]);
  });

  test('the day it will be past that limit is named ahead, and no night brings it forward', () => {
    // .0495 + .001 t = .45 at t = 400.5 for the middle rate: half the belief is over by then
    const on = (asOf: string) =>
      dueDate(
        quietLine({
          forecast: lineOf(0.0495 + 0.001 * (dayNumber(asOf) - dayNumber(TODAY)), 0.001, 0.05, asOf),
          history: longProven,
        }),
      );
    const first = on(TODAY);
    expect(candidate(first, 'over_limit')).toBe(addDays(TODAY, 400));
    expect(candidate(on(addDays(TODAY, 300)), 'over_limit')).toBe(addDays(TODAY, 400));
    expect(on(addDays(TODAY, 401)).rule).toBe('over_limit');
    expect(candidate(dueDate(quietLine()), 'over_limit')).toBeUndefined(); // 42,000 days
  });

  test('the yearly risk of a plug is told in words, with its numbers and the chance of the action limit beside it', () => {
    // .03 + .0018 × 365 = .69 after a year: no rate but the fastest plugs by then
    const settings = settingsWith({
      costs: { plugVisits: 1, pastActionVisits: 0 },
      intervals: { overLimitChance: 1 },
    });
    const due = dueDate(quietLine({ forecast: lineOf(0.03, 0.0018, 0.4), history: longProven, settings }));
    expect(due.rule).toBe('risk');
    const text = due.reasons[0]?.text ?? '';
    expect(text).toMatch(
      /^\d+ % chance of plugging within a year if nobody comes; yearly limit is 2 % for a finished basement; reached on 20/,
    );
    expect(codes(due)).toContain('action_chance');
    // the day it spends: its chance is the share of 2 % that its cycle allows, 1 − .98^(days/365.25)
    const allowed = 1 - 0.98 ** ((due.intervalDays ?? 0) / 365.25);
    expect(due.chances.plugByDue).toBeLessThanOrEqual(allowed);
    expect(due.chances.plugByDue).toBeGreaterThan(0.9 * allowed);
  });

  test('the worse the plug, the sooner: finished basement, basement, no basement', () => {
    const on = (basement: 'finished' | 'basement' | 'none') =>
      candidate(
        dueDate(
          quietLine({ forecast: lineOf(0.03, 0.0018, 0.4), consequence: { basement, wholeSystem: false } }),
        ),
        'risk',
      ) ?? '';
    expect(on('finished') < on('basement')).toBe(true);
    expect(on('basement') < on('none')).toBe(true);
  });

  test('a line nobody ever measured gets a finite day within its first interval', () => {
    const due = dueDate(
      quietLine({ forecast: { ...lineOf(0.03, 0.001, 1.2), readingsUsed: 0 }, ochre: 'unknown' }),
    );
    expect(due.intervalDays).toBeGreaterThan(20);
    expect(due.intervalDays).toBeLessThanOrEqual(180);
  });
});

describe('needlessly short', () => {
  const clean = { ...history, needlesslyShort: true };
  const terms = { intervalDays: 90, visitsPerYear: null, fromDay: dayNumber('2026-01-01'), toDay: null };
  const said = (changes: Partial<DueDateInput>) =>
    dueDate(quietLine(changes)).reasons.find(({ code }) => code === 'needlessly_short')?.text;

  test('is said where terms or custom bring the crew and three sharp readings found nothing', () => {
    // half of the action limit .45
    expect(said({ history: clean, careTerms: terms })).toBe(
      'Needlessly short: the last 3 readings by camera or draw-down agree and lie below 23 % blocked, a wet season among them.',
    );
    expect(said({ careTerms: terms })).toBeUndefined();
  });
  test('is not said where another rule asks within a tenth of the interval more, or the forecast within half of it', () => {
    const proven = { ...clean, longestGoodDays: 600 };
    // Ochre hardens 91 days after the clean: terms of 90 days leave one, those of 80 leave eleven, more than a tenth.
    const known = { history: proven, ochre: 'known' as const };
    expect(said({ ...known, careTerms: { ...terms, intervalDays: 90 } })).toBeUndefined();
    expect(said({ ...known, careTerms: { ...terms, intervalDays: 80 } })).toMatch(/^Needlessly short/);
    // From 3 % at .0035 a day the limit of 45 % is as likely as not passed after 120 days: 90 grown by half are 135, 75 are 112.
    const fast = {
      history: proven,
      forecast: lineOf(0.03, 0.0035, 0.01),
      limits: { action: 0.45, plug: 0.99 },
    };
    const due = dueDate(quietLine({ ...fast, careTerms: { ...terms, intervalDays: 90 } }));
    const passes = due.candidates.find(({ rule }) => rule === 'over_limit')?.day ?? 0;
    expect([due.rule, Math.abs(passes - dayNumber(TODAY) - 120) <= 1]).toEqual(['care_terms', true]);
    expect(codes(due)).not.toContain('needlessly_short');
    expect(said({ ...fast, careTerms: { ...terms, intervalDays: 75 } })).toMatch(/^Needlessly short/);
  });
  test('is not said of a visit that comes before ochre hardens: crust is no question of the bore', () => {
    const proven = { ...clean, longestGoodDays: 600 };
    const due = dueDate(quietLine({ history: proven, ochre: 'known', staysWet: true }));
    expect(due.rule).toBe('hardening');
    expect(codes(due)).not.toContain('needlessly_short');
  });
});

describe('closed seasons', () => {
  const winter = {
    fromDay: dayNumber('2026-08-01'),
    toDay: dayNumber('2026-10-15'),
    reason: 'frozen ground',
  };
  test('a due day inside one moves before it', () => {
    // known ochre: 1 June + 90 = 30 August, inside; the last open day is 31 July
    const due = dueDate(quietLine({ ochre: 'known', closedSeasons: [winter] }));
    expect([due.rule, due.dueOn]).toEqual(['closed_season', '2026-07-31']);
    expect(codes(due)).toContain('first_interval');
  });
  test('seasons that touch are left together', () => {
    const july = { fromDay: dayNumber('2026-07-16'), toDay: dayNumber('2026-07-31'), reason: 'harvest' };
    expect(dueDate(quietLine({ ochre: 'known', closedSeasons: [winter, july] })).dueOn).toBe('2026-07-15');
  });
  test('for custom alone nobody comes back within six weeks of a clean: the visit comes after it, and says why', () => {
    // The clean of 1 June and 30 days: 1 July is too soon, 13 July (42 days) is not.
    const from = (day: string) => ({ ...winter, fromDay: dayNumber(addDays(day, 1)) });
    const due = dueDate(quietLine({ ochre: 'known', closedSeasons: [from('2026-07-01')] }));
    expect([due.rule, due.dueOn]).toEqual(['first_interval', '2026-10-16']);
    expect(due.reasons.find(({ code }) => code === 'closed_season')?.text).toBe(
      "Closed from 2026-07-02 to 2026-10-15 (frozen ground); before it, on 2026-07-01, the visit would come 30 days after the clean of 2026-06-01, and no danger asks for it by the season's end: it moves after it: 2026-10-16.",
    );
    const later = dueDate(quietLine({ ochre: 'known', closedSeasons: [from('2026-07-13')] }));
    expect([later.rule, later.dueOn]).toEqual(['closed_season', '2026-07-13']);
    const settings = settingsWith({ intervals: { minDays: 60 } });
    expect(dueDate(quietLine({ ochre: 'known', closedSeasons: [from('2026-07-13')], settings })).dueOn).toBe(
      '2026-10-16',
    );
  });
  test('what is promised, or dangerous by its end, comes before it all the same', () => {
    const soon = { ...winter, fromDay: dayNumber('2026-07-02') };
    const on = (changes: Partial<DueDateInput>) =>
      dueDate(quietLine({ ochre: 'known', closedSeasons: [soon], ...changes })).dueOn;
    const careTerms = {
      intervalDays: 120,
      visitsPerYear: null,
      fromDay: dayNumber('2026-01-01'),
      toDay: null,
    };
    expect(on({ careTerms })).toBe('2026-07-01');
    // Past .45 as likely as not after 120 days, before 16 October.
    expect(on({ forecast: lineOf(0.03, 0.0035, 0.01), limits: { action: 0.45, plug: 0.99 } })).toBe(
      '2026-07-01',
    );
    expect(on({ history: { ...history, cleansSinceReopened: 2 } })).toBe('2026-07-01');
    // First interval of 90 days: open again 179 days after the clean it waits, 180 days after it does not.
    expect(on({ closedSeasons: [{ ...soon, toDay: dayNumber('2026-11-26') }] })).toBe('2026-11-27');
    expect(on({ closedSeasons: [{ ...soon, toDay: dayNumber('2026-11-27') }] })).toBe('2026-07-01');
  });
  test('one that has begun makes nobody wait for its end: the line keeps its day', () => {
    const begun = { ...winter, fromDay: dayNumber('2026-05-20') };
    expect(dueDate(quietLine({ ochre: 'known', closedSeasons: [begun] })).dueOn).toBe('2026-08-30');
  });
});

describe('how long a line that is late may wait for a week with room', () => {
  const long = cleanedOn('2026-01-01');
  const winter = {
    fromDay: dayNumber('2026-06-20'),
    toDay: dayNumber('2026-10-15'),
    reason: 'frozen ground',
  };
  const lateOne = (more: Partial<DueDateInput> = {}) =>
    dueDate(quietLine({ ochre: 'known', history: long, ...more }));

  test('custom and cost alone: no rule names a day', () => {
    const due = lateOne();
    expect([due.rule, due.dueOn, due.waitsUntil]).toEqual(['first_interval', '2026-04-01', null]);
  });
  test('not past what was promised', () => {
    const terms = { intervalDays: 160, visitsPerYear: null, fromDay: dayNumber('2026-01-01'), toDay: null };
    // 1 January + 160 days
    expect(lateOne({ careTerms: terms }).waitsUntil).toBe('2026-06-10');
  });
  test('not at all after a plug', () => {
    expect(lateOne({ history: { ...long, cleansSinceReopened: 0 } }).waitsUntil).toBe('2026-01-31');
    expect(lateOne({ history: { ...long, pluggedSinceDay: dayNumber('2026-05-20') } }).waitsUntil).toBe(
      '2026-05-20',
    );
  });
  test('not past the day on which it may be over its action limit, by the chance set', () => {
    const forecast = lineOf(0.2, 0.002, 0.05, TODAY, 0.02);
    const days = forecast.passage(0.45).quantile(0.02) ?? Number.NaN;
    expect(days).toBeGreaterThan(60);
    expect(lateOne({ forecast }).waitsUntil).toBe(addDays(TODAY, Math.floor(days)));
    const bold = settingsWith({ visits: { lateActionChance: 0.1 } });
    expect(String(lateOne({ forecast, settings: bold }).waitsUntil) > addDays(TODAY, Math.floor(days))).toBe(
      true,
    );
  });
  test('not into a closed season, and not beyond what the client decided', () => {
    expect(lateOne({ closedSeasons: [winter] }).waitsUntil).toBe('2026-06-19');
    const later = {
      kind: 'postponement',
      decidedBy: 'the owner of the house',
      decidedDay: dayNumber('2026-05-30'),
      untilDay: dayNumber('2026-07-01'),
      riskTold: '9 % a year',
    } as const;
    const due = lateOne({ decisions: [later] });
    expect([due.dueOn, due.waitsUntil]).toEqual(['2026-07-01', '2026-07-01']);
  });
  test('one due after a closed season comes no sooner than its end', () => {
    const spring = { ...winter, toDay: dayNumber('2026-08-20') };
    const due = dueDate(quietLine({ ochre: 'known', closedSeasons: [spring] }));
    expect([due.dueOn, due.openFrom]).toEqual(['2026-08-30', '2026-08-21']);
    expect(dueDate(quietLine({ ochre: 'known' })).openFrom).toBeNull();
  });
});

describe("the client's decisions", () => {
  const decided = {
    decidedBy: 'the owner of the house',
    decidedDay: dayNumber('2026-05-30'),
    riskTold: '9 % a year',
  };
  test('a postponement until a day is respected, and a later day is not made earlier by it', () => {
    const until = (day: string) =>
      dueDate(
        quietLine({
          ochre: 'known',
          decisions: [{ ...decided, kind: 'postponement', untilDay: dayNumber(day) }],
        }),
      );
    expect([until('2026-10-01').rule, until('2026-10-01').dueOn, until('2026-10-01').notBefore]).toEqual([
      'postponed',
      '2026-10-01',
      '2026-10-01',
    ]);
    expect([until('2026-07-01').rule, until('2026-07-01').dueOn]).toEqual(['first_interval', '2026-08-30']);
    expect(until('2026-10-01').reasons.find(({ code }) => code === 'postponed')?.text).toContain(
      'told: 9 % a year',
    );
  });
  test('a refusal leaves no day, but keeps the reasons', () => {
    const due = dueDate(quietLine({ decisions: [{ ...decided, kind: 'refusal', untilDay: null }] }));
    expect([due.rule, due.dueOn, due.intervalDays]).toEqual(['refused', null, null]);
    expect(codes(due)).toEqual(['refused', 'first_interval', 'action_chance']);
  });
  test('a plug found after the decision is told as a new fact; one known then is not', () => {
    const pluggedOn = (day: string, untilDay: number | null) => {
      const decision = {
        ...decided,
        kind: untilDay === null ? 'refusal' : 'postponement',
        untilDay,
      } as const;
      const pluggedSinceDay = dayNumber(day);
      return codes(dueDate(quietLine({ decisions: [decision], history: { ...history, pluggedSinceDay } })));
    };
    for (const until of [null, dayNumber('2026-12-01')]) {
      expect(pluggedOn('2026-05-31', until)).toContain('plug_after_decision');
      expect(pluggedOn('2026-05-30', until)).not.toContain('plug_after_decision');
    }
  });
  test('once it has run out the line is due by its own rules again, not kept by what was told under it', () => {
    const postponed = { ...decided, kind: 'postponement', untilDay: dayNumber('2026-09-01') } as const;
    const previous = { dueDay: dayNumber('2026-09-01'), news: false };
    const under = dueDate(quietLine({ ochre: 'known', decisions: [postponed], previous }));
    expect([under.rule, under.dueOn]).toEqual(['postponed', '2026-09-01']);
    expect(dueDate(quietLine({ ochre: 'known', decisions: [], previous })).dueOn).toBe('2026-08-30');
  });
  test('a postponement that has run out binds no more', () => {
    const past = { ...decided, kind: 'postponement', untilDay: dayNumber(TODAY) } as const;
    expect(dueDate(quietLine({ decisions: [past] })).notBefore).toBeNull();
  });
  test('postponed into a closed season, the visit comes after it', () => {
    const season = { fromDay: dayNumber('2026-09-15'), toDay: dayNumber('2026-10-15'), reason: 'frost' };
    const later = { ...decided, kind: 'postponement', untilDay: dayNumber('2026-10-01') } as const;
    const due = dueDate(quietLine({ ochre: 'known', closedSeasons: [season], decisions: [later] }));
    expect(due.dueOn).toBe('2026-10-16');
  });
});

describe('without news', () => {
  const told = (dueDay: number, news = false) =>
    dueDate(
      quietLine({
        forecast: lineOf(0.03, 0.0018, 0.4),
        previous: { dueDay, news },
        history: { ...history, longestGoodDays: 600 },
      }),
    );
  const fresh = told(0, true).dueDay ?? 0;
  const interval = fresh - dayNumber(TODAY);

  test('a day moves only by more than 3 days and 5 % of its interval', () => {
    const share = Math.floor((0.05 * interval) / 1.05);
    expect(share).toBeGreaterThan(3);
    expect(told(fresh + share - 1).dueDay).toBe(fresh + share - 1);
    expect(told(fresh - 3).dueDay).toBe(fresh - 3);
    expect(told(fresh + Math.ceil(0.06 * interval)).dueDay).toBe(fresh);
  });
  test('with news it moves at once', () => {
    expect(told(fresh + 2, true).dueDay).toBe(fresh);
  });
  test('a visit overdue keeps the day it was due', () => {
    const due = dueDate(
      quietLine({
        forecast: lineOf(0.6, 0.001, 0.2),
        previous: { dueDay: dayNumber('2026-05-10'), news: false },
      }),
    );
    expect(due.dueOn).toBe('2026-05-10');
    expect(due.reasons.find(({ code }) => code === 'steady')?.text).toContain('nobody came');
  });
  test('it never stays beyond a day the calendar fixes', () => {
    const due = dueDate(
      quietLine({ ochre: 'known', previous: { dueDay: dayNumber(TODAY) + 92, news: false } }),
    );
    expect(due.intervalDays).toBe(90);
  });
});

describe('whatever the line', () => {
  const anyLine = fc.record({
    occlusion: fc.double({ min: 0, max: 0.95, noNaN: true }),
    rate: fc.double({ min: 0.00001, max: 0.02, noNaN: true }),
    logSd: fc.double({ min: 0.05, max: 1.3, noNaN: true }),
    ochre: fc.constantFrom('known' as const, 'unknown' as const, 'none_seen' as const),
    staysWet: fc.constantFrom(true, false, null),
    longestGoodDays: fc.nat(900),
    laidDays: fc.option(fc.integer({ min: 1, max: 1100 })),
    wetSeasonSeen: fc.boolean(),
    cleansSinceReopened: fc.constantFrom(null, 0, 1, 2, 3),
    ageDays: fc.nat(800),
    careDays: fc.constantFrom(null, 60, 180),
    seasonAfter: fc.constantFrom(null, 5, 60, 200),
    basement: fc.constantFrom('finished' as const, 'basement' as const, 'none' as const, 'unknown' as const),
  });
  const inputOf = (line: typeof anyLine extends fc.Arbitrary<infer T> ? T : never): DueDateInput => {
    const today = dayNumber(TODAY);
    const cleanedDay = today - line.ageDays;
    return quietLine({
      forecast: lineOf(line.occlusion, line.rate, line.logSd),
      ochre: line.ochre,
      staysWet: line.staysWet,
      consequence: { basement: line.basement, wholeSystem: false },
      history: {
        ...history,
        cleanSinceDay: cleanedDay,
        lastClean: {
          day: cleanedDay,
          occlusionBefore: 0.2,
          beforeIsDoubted: false,
          beforeIsHigh: false,
          plugged: false,
          residue: 0.03,
        },
        longestGoodDays: line.longestGoodDays,
        laidGood:
          line.laidDays === null
            ? null
            : { days: line.laidDays, foundDay: cleanedDay, from: 'laid' as const },
        wetSeasonSeen: line.wetSeasonSeen,
        cleansSinceReopened: line.cleansSinceReopened,
      },
      careTerms:
        line.careDays === null
          ? null
          : { intervalDays: line.careDays, visitsPerYear: null, fromDay: cleanedDay, toDay: null },
      closedSeasons:
        line.seasonAfter === null
          ? []
          : [{ fromDay: today + line.seasonAfter, toDay: today + line.seasonAfter + 90, reason: 'winter' }],
    });
  };

  test('never later than any rule that names a day, before today only where a rule says so, always with a reason', () => {
    fc.assert(
      fc.property(anyLine, (line) => {
        const due = dueDate(inputOf(line));
        const today = dayNumber(TODAY);
        // For custom alone nobody comes back soon after a clean: then a closed season comes first.
        const custom = ['hardening', 'first_interval', 'growth', 'cost_least'];
        const waits = due.reasons.some(({ text }) => text.includes('it moves after it'));
        for (const { rule, day } of due.candidates) {
          if (waits && custom.includes(rule)) continue;
          if (day !== null) expect(due.dueDay).toBeLessThanOrEqual(Math.max(today, day));
        }
        const missed = due.candidates.map(({ day }) => day ?? today);
        expect(due.dueDay).toBeGreaterThanOrEqual(Math.min(today, ...missed));
        expect(due.reasons.length).toBeGreaterThanOrEqual(3);
        expect(due.reasons.every(({ text }) => !text.includes('NaN') && text.length > 10)).toBe(true);
      }),
      { numRuns: 300 },
    );
  });

  test('more risk allowed is never earlier', () => {
    fc.assert(
      fc.property(anyLine, fc.double({ min: 1.01, max: 10, noNaN: true }), (line, times) => {
        const input = inputOf(line);
        const risks = DEFAULT_SETTINGS.yearlyPlugRisk;
        const bolder = settingsWith({
          yearlyPlugRisk: {
            finished: risks.finished * times,
            basement: risks.basement * times,
            none: 0.1 * times,
            unknown: 0.05 * times,
          },
        });
        const now = dueDate(input).dueDay ?? 0;
        expect(dueDate({ ...input, settings: bolder }).dueDay).toBeGreaterThanOrEqual(now);
      }),
      { numRuns: 150 },
    );
  });

  test('a fuller or faster line is never later', () => {
    fc.assert(
      fc.property(anyLine, fc.double({ min: 0.01, max: 0.3, noNaN: true }), (line, more) => {
        const risk = (occlusion: number, rate: number) =>
          candidate(dueDate(inputOf({ ...line, occlusion, rate, seasonAfter: null })), 'risk') ?? '9999';
        const here = risk(line.occlusion, line.rate);
        expect(risk(line.occlusion + more, line.rate) <= here).toBe(true);
        expect(risk(line.occlusion, line.rate * (1 + more)) <= here).toBe(true);
      }),
      { numRuns: 150 },
    );
  });
});

test('that a line is taken to have been clean when it was laid is told until its first clean', () => {
  const start = { startedOn: '2024-05-01', begins: 'clean', because: 'installed' } as const;
  const at = (kind: string, day: string, phase?: string) => ({
    kind,
    day: dayNumber(day),
    ...(phase === undefined ? {} : { phase }),
  });
  const look = at('reading', '2026-01-10', 'no_cleaning');
  expect(startReason(start, [])?.text).toContain('nothing was found in it since.');
  expect(startReason(start, [look])).toMatchObject({
    code: 'clean_when_laid',
    text: 'Taken to have been clean when it was laid on 2024-05-01: no clean since is on record, and growth counts from that day.',
  });
  expect(startReason(start, [look, at('clean', '2026-01-11')])).toBeNull();
  expect(startReason(start, [look, at('reading', '2026-01-11', 'after_cleaning')])).toBeNull();
  expect(startReason(start, [at('reading', '2024-03-01'), look])?.code).toBe('laid_midway');
});
