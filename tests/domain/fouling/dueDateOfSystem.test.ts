import { describe, expect, test } from 'vitest';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import { isFirstSurvey, levelFirstSurveys } from '../../../src/domain/fouling/dueDateLevelling.js';
import { dueDateOfPit } from '../../../src/domain/fouling/dueDateOfPit.js';
import {
  along,
  dueDateOfSystem,
  type SystemDue,
  siteVisits,
} from '../../../src/domain/fouling/dueDateOfSystem.js';
import { DEFAULT_SETTINGS, settingsWith } from '../../../src/domain/work/settings.js';

const day = dayNumber('2026-06-01');

describe('one system, one visit', () => {
  test('on the day of the line due first', () => {
    const due = dueDateOfSystem('s', [
      { id: 'footing', dueDay: day + 90, notBeforeDay: null, intervalDays: 365 },
      { id: 'discharge', dueDay: day + 30, notBeforeDay: null, intervalDays: 90 },
      { id: 'pit', dueDay: day + 200, notBeforeDay: null, intervalDays: 365 },
    ]);
    expect(due).toEqual({
      systemId: 's',
      dueDay: day + 30,
      notBeforeDay: null,
      intervalDays: 90,
      dueMember: 'discharge',
      memberIds: ['footing', 'discharge', 'pit'],
      leftOutIds: [],
    });
  });
  test('less the lines the client refused or postponed beyond it', () => {
    const due = dueDateOfSystem('s', [
      { id: 'a', dueDay: day + 30, notBeforeDay: null, intervalDays: 90 },
      { id: 'refused', dueDay: null, notBeforeDay: null, intervalDays: null },
      { id: 'later', dueDay: day + 60, notBeforeDay: day + 60, intervalDays: 90 },
    ]);
    expect(due.memberIds).toEqual(['a']);
    expect(due.leftOutIds).toEqual(['refused', 'later']);
  });
  test('all refused: no day', () => {
    expect(
      dueDateOfSystem('s', [{ id: 'a', dueDay: null, notBeforeDay: null, intervalDays: null }]).dueDay,
    ).toBeNull();
  });
});

describe('systems of one site', () => {
  const system = (systemId: string, dueDay: number, intervalDays: number | null): SystemDue => ({
    systemId,
    dueDay,
    notBeforeDay: null,
    intervalDays,
    dueMember: systemId,
    memberIds: [systemId],
    leftOutIds: [],
  });
  const visits = (...systems: SystemDue[]) =>
    siteVisits(systems, DEFAULT_SETTINGS).map(({ systemIds }) => systemIds);

  test('one joins when due within 45 days …', () => {
    expect(visits(system('a', day, 180), system('b', day + 45, 180))).toEqual([['a', 'b']]);
    expect(visits(system('a', day, 180), system('b', day + 46, 180))).toEqual([['a'], ['b']]);
  });
  test('… or half its own interval, whichever is less: half of 60 is 30', () => {
    expect(visits(system('a', day, 180), system('b', day + 30, 60))).toEqual([['a', 'b']]);
    expect(visits(system('a', day, 180), system('b', day + 31, 60))).toEqual([['a'], ['b']]);
  });
  test('what the client put off to a later day does not come sooner with another system', () => {
    const putOff = { ...system('b', day + 30, 200), notBeforeDay: day + 30 };
    expect(visits(system('a', day, 180), putOff)).toEqual([['a'], ['b']]);
    expect(visits(system('a', day + 30, 180), putOff)).toEqual([['a', 'b']]);
    const line = { id: 'l', dueDay: day + 30, notBeforeDay: day + 30, intervalDays: 200 };
    expect(dueDateOfSystem('s', [line]).notBeforeDay).toBe(day + 30);
  });
  test('nobody chains: the third joins the second, not the first', () => {
    expect(visits(system('a', day, 180), system('b', day + 50, 180), system('c', day + 80, 180))).toEqual([
      ['a'],
      ['b', 'c'],
    ]);
  });
  test('it says so when a second trip comes within six weeks of the first', () => {
    const [first, second] = siteVisits([system('a', day, 180), system('b', day + 31, 60)], DEFAULT_SETTINGS);
    expect([first?.daysAfterLastTrip, second?.daysAfterLastTrip]).toEqual([null, 31]);
  });
  test('a system that comes sooner says by how much', () => {
    const [visit] = siteVisits([system('a', day, 180), system('b', day + 20, 180)], DEFAULT_SETTINGS);
    expect(visit?.reasons[0]?.text).toBe(
      'Comes 20 days sooner, with the visit of 2026-06-01: one trip to the house instead of two.',
    );
  });
});

describe('a pit has its own day', () => {
  const test1 = {
    day,
    floatCycled: true,
    checkValveHolds: true,
    backupWorks: null,
    alarmWorks: null,
    sludgeShare: 0.2,
  };
  test('a year after its last test, 90 days where ochre is known', () => {
    expect(
      dueDateOfPit({ lastTest: test1, bookedSinceDay: 0, ochre: 'none_seen' }, day, DEFAULT_SETTINGS).dueDay,
    ).toBe(day + 365);
    expect(
      dueDateOfPit({ lastTest: test1, bookedSinceDay: 0, ochre: 'known' }, day, DEFAULT_SETTINGS).dueDay,
    ).toBe(day + 90);
  });
  test('now, when the float did not cycle or the sludge stood too high', () => {
    const bad = { ...test1, floatCycled: false, sludgeShare: 0.6 };
    const due = dueDateOfPit({ lastTest: bad, bookedSinceDay: 0, ochre: 'known' }, day + 5, DEFAULT_SETTINGS);
    expect(due.dueDay).toBe(day + 5);
    expect(due.reason.text).toBe(
      'At the last test the float did not cycle; sludge stood too high; due now: 2026-06-06.',
    );
  });
});

describe('an imported book is not all due today', () => {
  const survey = (id: string, yearlyRisk: number, givenDay: number | null = null) => ({
    id,
    yearlyRisk,
    plugWithinYear: 0.1,
    givenDay,
  });
  const five = settingsWith({ surveys: { perWeek: 5 } });

  test('first surveys take so many a week, finished basements first', () => {
    // 1 June 2026 is a Monday: 5 a week are one a working day
    const book = [...Array(12).keys()].map((i) =>
      survey(`l${String(i).padStart(2, '0')}`, i < 6 ? 0.1 : 0.02),
    );
    const days = levelFirstSurveys(book, day, five);
    expect([...days.values()].sort((a, b) => a - b).map((each) => each - day)).toEqual([
      0, 1, 2, 3, 4, 7, 8, 9, 10, 11, 14, 15,
    ]);
    expect(days.get('l06')).toBe(day);
    expect(days.get('l05')).toBe(day + 15);
  });
  test('who was given a day keeps it, and its place is not given twice', () => {
    const book = [survey('old', 0.1, day + 1), survey('a', 0.02), survey('b', 0.02)];
    const days = levelFirstSurveys(book, day, settingsWith({ surveys: { perWeek: 2 } }));
    expect(days.get('old')).toBe(day + 1);
    expect([...days.values()].filter((each) => each < day + 7)).toHaveLength(2);
  });
  test('on a Saturday the next week begins', () => {
    expect(levelFirstSurveys([survey('a', 0.02)], day + 5, five).get('a')).toBe(day + 7);
  });
  test('a line with a reading, or with a promise, is not a first survey', () => {
    expect(isFirstSurvey({ rule: 'risk', dueDay: day }, 0, day)).toBe(true);
    expect(isFirstSurvey({ rule: 'risk', dueDay: day }, 1, day)).toBe(false);
    expect(isFirstSurvey({ rule: 'care_terms', dueDay: day }, 0, day)).toBe(false);
    expect(isFirstSurvey({ rule: 'risk', dueDay: day + 9 }, 0, day)).toBe(false);
  });
});

describe('a line that comes along with its system', () => {
  const own = { code: 'growth', facts: { days: 150 }, text: 'No longer than 150 days: 2026-11-01.' };
  const days = (leader: string, wanted: string) => ({
    leaderDay: dayNumber(leader),
    wantedDay: dayNumber(wanted),
    today: dayNumber('2026-10-01'),
  });
  test('with a visit that is late its days are counted from today, before which nobody comes', () => {
    // 1 to 31 October
    const { text, facts } = along(own, dayNumber('2026-10-31'), days('2025-05-24', '2025-05-24'));
    expect(facts).toMatchObject({ withOn: '2026-10-01', wantedBy: '2025-05-24', daysSooner: 30 });
    expect(text).toContain(
      'it comes along up to 30 days sooner, because all lines of a system are one visit, wanted since 2025-05-24.',
    );
    // Late itself, though less: it waits no longer for the other.
    expect(along(own, dayNumber('2026-09-20'), days('2025-05-24', '2025-05-24'))).toBe(own);
  });
  test('tells its own day and the one it comes on as one reason', () => {
    expect(along(own, dayNumber('2026-11-01'), days('2026-10-22', '2026-10-22'))).toEqual({
      code: 'growth',
      facts: { days: 150, dueOn: '2026-11-01', withOn: '2026-10-22', wantedBy: '2026-10-22', daysSooner: 10 },
      text:
        'No longer than 150 days: 2026-11-01. By itself it is due on 2026-11-01; it comes along 10 days sooner, ' +
        'because all lines of a system are one visit, wanted by 2026-10-22.',
    });
  });
  test('and the one due first tells its own alone', () => {
    const day = dayNumber('2026-10-22');
    expect(along(own, day, days('2026-10-22', '2026-10-22'))).toBe(own);
  });
  test('what levels the visit is told apart: due 20 Dec, with the one of 10 Dec, levelled to 1 Dec', () => {
    const { text, facts } = along(own, dayNumber('2026-12-20'), days('2026-12-10', '2026-12-01'));
    expect(facts).toMatchObject({ withOn: '2026-12-10', wantedBy: '2026-12-01', daysSooner: 10 });
    expect(text).toContain(
      'it comes along 10 days sooner, because all lines of a system are one visit, first due on 2026-12-10; that visit is wanted by 2026-12-01.',
    );
  });
});
