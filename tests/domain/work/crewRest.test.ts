import { expect, test } from 'vitest';
import { dayTroubles, isImpossible } from '../../../src/domain/work/crewRest.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';

const HOUR = 3600;
const day = {
  endSeconds: 15 * HOUR,
  shiftStartSeconds: 7 * HOUR,
  shiftEndSeconds: 16 * HOUR,
  overtimeSeconds: HOUR,
  nextShiftSeconds: 31 * HOUR,
};
const codes = (more: object, restHours = 10) =>
  dayTroubles({ ...day, ...more }, { calls: { ...DEFAULT_SETTINGS.calls, restHours } }).map(
    ({ code }) => code,
  );

test('a day that ends in its shift troubles nobody; overtime is told, and past what a plan may use told as such', () => {
  expect(codes({})).toEqual([]);
  expect(codes({ endSeconds: 16 * HOUR + 1800 })).toEqual(['overtime']);
  expect(codes({ endSeconds: 18 * HOUR })).toEqual(['past_overtime']);
});

test('back at three in the night, four hours before the next shift: too little of ten hours', () => {
  const [first] = dayTroubles({ ...day, endSeconds: 27 * HOUR }, DEFAULT_SETTINGS);
  // 31 − 27 = 4 hours.
  expect(first).toEqual({ code: 'rest_too_short', restSeconds: 4 * HOUR, wantedSeconds: 10 * HOUR });
  expect(codes({ endSeconds: 27 * HOUR }, 4)).toEqual(['past_overtime']);
  // Nobody works on the days after: rest enough.
  expect(codes({ endSeconds: 27 * HOUR, nextShiftSeconds: null })).toEqual(['past_overtime']);
});

test('after the next shift has begun, or round the clock, is impossible', () => {
  const troubles = dayTroubles({ ...day, endSeconds: 32 * HOUR }, DEFAULT_SETTINGS);
  expect(troubles[0]).toEqual({ code: 'next_shift_begun', overSeconds: HOUR });
  expect(troubles[1]).toEqual({ code: 'longer_than_a_day', seconds: 25 * HOUR });
  expect(troubles.filter(isImpossible).map(({ code }) => code)).toEqual([
    'next_shift_begun',
    'longer_than_a_day',
  ]);
});
