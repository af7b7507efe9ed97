import { expect, test } from 'vitest';
import {
  cycleMinutes,
  dutyShare,
  flowOfLevelLps,
  inflowOfShortestCycleLps,
  shortestCycleMinutes,
  startsPerHour,
} from '../../../src/domain/hydraulics/pitCycle.js';

test('a pump starts most often when half of what it moves runs in', () => {
  const [volumeL, pumpLps] = [30, 2];
  const shortest = cycleMinutes(volumeL, pumpLps, inflowOfShortestCycleLps(pumpLps)) ?? 0;
  expect(shortest).toBeCloseTo(shortestCycleMinutes(volumeL, pumpLps), 12); // 4 × 30 / 2 = 60 s
  for (const inflow of [0.2, 0.6, 0.9, 1.1, 1.7]) {
    expect(cycleMinutes(volumeL, pumpLps, inflow)).toBeGreaterThan(shortest);
  }
  expect(startsPerHour(volumeL, pumpLps, 1)).toBeCloseTo(60, 9);
});

test('a pump that does not win never stops; a dry pit never starts it', () => {
  expect(cycleMinutes(30, 2, 2)).toBeNull();
  expect(cycleMinutes(30, 2, 0)).toBeNull();
  expect(startsPerHour(30, 2, 3)).toBe(0);
  expect(dutyShare(2, 3)).toBe(1);
  expect(() => cycleMinutes(0, 2, 1)).toThrow(RangeError);
});

test('a rise of 60 mm a minute in a pit of 600 mm is .283 L/s', () => {
  // pi .36/4 = .2827 L a millimetre
  expect(flowOfLevelLps(600, 60)).toBeCloseTo(0.2827, 4);
});
