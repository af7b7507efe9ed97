import { expect, test } from 'vitest';
import { laidDay, startsClean } from '../../../src/domain/work/bookStart.js';

test('a line first seen within about three years of being laid started clean, an older one nobody knows', () => {
  expect(startsClean(1000, 2100, 3)).toBe(true);
  expect(startsClean(1000, 2101, 3)).toBe(false);
  expect(startsClean(null, 2000, 0)).toBe(false);
  expect(startsClean(2001, 2000, 1)).toBe(false); // a record before the pipe: the day is wrong
});

test('a book that keeps twelve readings has lost the earlier visits of a line with twelve', () => {
  expect(startsClean(1000, 1200, 11)).toBe(true);
  expect(startsClean(1000, 1200, 12)).toBe(false);
});

test('a line was laid on its own day, else on the one all its sections have in common', () => {
  expect(laidDay('2024-05-01', ['2020-01-01', null])).toBe('2024-05-01');
  expect(laidDay(null, ['2024-05-01', '2024-05-01'])).toBe('2024-05-01');
  expect(laidDay(null, ['2024-05-01', '2025-05-01'])).toBe(null);
  expect(laidDay(null, ['2024-05-01', null])).toBe(null);
  expect(laidDay(null, [])).toBe(null);
});
