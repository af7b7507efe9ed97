import { expect, test } from 'vitest';
import {
  nextMailTrySeconds,
  nextTrySeconds,
  retryAfterSeconds,
} from '../../../src/domain/telling/retries.js';

test('waits grow from five seconds to a day, three days in all, a fifth left to chance', () => {
  const middle = Array.from({ length: 9 }, (_, i) => nextTrySeconds(i + 1, 0.5));
  expect(middle).toEqual([5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400]);
  expect(middle.reduce((sum: number, wait) => sum + (wait ?? 0), 0) / 86_400).toBeCloseTo(3.15, 2);
  expect(nextTrySeconds(1, 0)).toBe(4);
  expect(nextTrySeconds(1, 0.999999)).toBeCloseTo(6, 3);
  expect(nextTrySeconds(10, 0.5)).toBeNull();
});

test('the other side may ask for more, up to a day, never for less', () => {
  expect(nextTrySeconds(1, 0.5, 120)).toBe(120);
  expect(nextTrySeconds(2, 0.5, 1)).toBe(300);
  expect(nextTrySeconds(1, 0.5, 10 ** 7)).toBe(86_400);
  // Nor does a day's wait grow by chance.
  expect(nextTrySeconds(9, 0.99)).toBe(86_400);
});

test('Retry-After is seconds or a date', () => {
  const now = Date.parse('2026-10-01T12:00:00Z');
  expect(retryAfterSeconds('120', now)).toBe(120);
  expect(retryAfterSeconds('Thu, 01 Oct 2026 12:05:00 GMT', now)).toBe(300);
  expect(retryAfterSeconds('Thu, 01 Oct 2026 11:00:00 GMT', now)).toBe(0);
  expect(retryAfterSeconds('soon', now)).toBeNull();
  expect(retryAfterSeconds(undefined, now)).toBeNull();
});

test('mail is tried six times again within half a day', () => {
  const waits = Array.from({ length: 7 }, (_, i) => nextMailTrySeconds(i + 1, 0.5));
  expect(waits).toEqual([60, 300, 900, 3_600, 7_200, 14_400, null]);
});
