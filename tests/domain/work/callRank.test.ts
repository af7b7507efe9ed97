import { expect, test } from 'vitest';
import { callRank, callWorth, type RankedCall } from '../../../src/domain/work/callRank.js';

const alarm: RankedCall = {
  kind: 'alarm',
  urgency: 'at_once',
  waterInHouse: 'no',
  basement: 'finished',
  hoursLeft: 12,
};
const rising: RankedCall = { ...alarm, kind: 'water_rising', waterInHouse: 'yes' };

test('water in the house comes before a dry house, a finished basement before a plain one', () => {
  const sequence: RankedCall[] = [
    rising,
    { ...rising, basement: 'basement' },
    { ...rising, basement: 'none' },
    { ...alarm, waterInHouse: 'unknown' },
    alarm,
    { ...alarm, kind: 'orange_stain', urgency: 'in_days' },
  ];
  expect(sequence.map(callRank)).toEqual([6, 5, 4, 3, 2, 1]);
  const worth = sequence.map(callWorth);
  expect(worth).toEqual([...worth].sort((a, b) => b - a));
});

test('water that rises is water in the house unless the caller says it is not there yet', () => {
  expect(callRank({ ...rising, waterInHouse: 'unknown' })).toBe(6);
  expect(callRank({ ...rising, waterInHouse: 'no' })).toBe(3);
  expect(callRank({ ...alarm, waterInHouse: 'yes' })).toBe(6);
});

test('of two of one rank the sooner weighs more, and never as much as the rank above', () => {
  const soon = callWorth({ ...rising, basement: 'basement', hoursLeft: 0 });
  expect(soon).toBeGreaterThan(callWorth({ ...rising, basement: 'basement', hoursLeft: 2 }));
  // 3 × 1.2 = 3.6, under 4.
  expect(soon).toBeCloseTo(3.6, 9);
  expect(callWorth({ ...rising, hoursLeft: 1000 })).toBeGreaterThan(soon);
});
