import { expect, test } from 'vitest';
import { countsAsTest, deadParts, nowAtPlug, pitRepair } from '../../../src/domain/work/pitFaults.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';
import { pitHoldsL, respondWithinMinutes } from '../../../src/domain/work/waterUrgency.js';

test('the worst dead part decides by when it is repaired; what was not tried is not dead', () => {
  expect(deadParts({ alarmWorks: false, floatCycled: false, backupWorks: null })).toEqual([
    'floatCycled',
    'alarmWorks',
  ]);
  expect(pitRepair([])).toBeNull();
  expect(pitRepair(['checkValveHolds', 'alarmWorks'])).toMatchObject({ pumpFirst: false, withinDays: 2 });
  expect(pitRepair(['floatCycled'])).toMatchObject({ pumpFirst: true, withinDays: 0 });
  expect([countsAsTest([], false), countsAsTest([], true), countsAsTest(['alarmWorks'], false)]).toEqual([
    true,
    false,
    false,
  ]);
});

test('how soon somebody must be there follows from inflow, pit, basement and backup', () => {
  const pit = { inflowLps: 0.25, holdsL: null, basement: 'basement', backupWorks: false } as const;
  const within = (change: object) => respondWithinMinutes({ ...pit, ...change }, DEFAULT_SETTINGS.calls);
  // 75.7 L at .25 L/s are 5 minutes: water rising, 120 minutes
  expect(within({})).toBe(120);
  expect(within({ basement: 'finished' })).toBe(60);
  expect(within({ inflowLps: null })).toBe(120);
  // 75.7 L at .005 L/s are 252 minutes, longer than an alarm's 240
  expect(within({ inflowLps: 0.005 })).toBe(240);
  expect(within({ inflowLps: 0 })).toBe(240);
  expect(within({ basement: 'none' })).toBe(240);
  expect(within({ backupWorks: true })).toBe(240);
  // 1 m across and 1 m deep: 785 L at .05 L/s are 262 minutes
  expect(pitHoldsL(1000, 1000)).toBeCloseTo(785.4, 1);
  expect(within({ inflowLps: 0.05, holdsL: pitHoldsL(1000, 1000) })).toBe(240);
});

test('a plug over a pit offers a pump; ice is never met with a flame', () => {
  expect(nowAtPlug('deposit', 'p').foundWork).toEqual([{ kind: 'temporary_pump', pitId: 'p' }]);
  expect(nowAtPlug('deposit', null).foundWork).toEqual([]);
  expect(nowAtPlug('ice', null).steps.at(-1)?.text).toContain('No open flame');
});
