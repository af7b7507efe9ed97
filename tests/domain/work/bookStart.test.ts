import { expect, test } from 'vitest';
import { startsClean } from '../../../src/domain/work/bookStart.js';

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
