import { expect, test } from 'vitest';
import { crewPosition } from '../../../src/domain/work/crewPosition.js';

const DEPOT = { latitude: 44, longitude: -90 };
const HOUSE = { latitude: 44.1, longitude: -90 };
const NEXT = { latitude: 44.1, longitude: -90.2 };
const done = (endedSeconds: number | null) => ({
  at: HOUSE,
  startedSeconds: 30_000,
  endedSeconds,
  expectedEndSeconds: 33_600,
  waterLitres: 120,
  wasteLitres: 40,
});

test('a crew that has not left is planned as if the day had not begun', () => {
  expect(crewPosition(26_000, DEPOT, 27_000, [], { at: HOUSE, travelSeconds: 600 })).toBeNull();
});

test('on its way it is as far along as its driving time says', () => {
  // Left at 27 000, 300 of 600 seconds ago: half way north.
  const half = crewPosition(27_300, DEPOT, 27_000, [], { at: HOUSE, travelSeconds: 600 });
  expect(half?.at.latitude).toBeCloseTo(44.05, 10);
  expect(half?.freeAtSeconds).toBe(27_300);
  // Between two stops: done at 33 000, a quarter of 1 200 seconds ago; 0.25 × 0.2° west.
  const quarter = crewPosition(33_300, DEPOT, 27_000, [done(33_000)], { at: NEXT, travelSeconds: 1_200 });
  expect(quarter?.at.longitude).toBeCloseTo(-90.05, 10);
});

test('at work it is free when the work should be done, or now where that is over', () => {
  expect(crewPosition(31_000, DEPOT, 27_000, [done(null)], null)).toEqual({
    at: HOUSE,
    freeAtSeconds: 33_600,
    waterLitresUsed: 120,
    wasteLitresOnBoard: 40,
  });
  expect(crewPosition(35_000, DEPOT, 27_000, [done(null)], null)?.freeAtSeconds).toBe(35_000);
});
