import { expect, test } from 'vitest';
import { binomialInterval } from '../../../src/domain/statistics/binomialInterval.js';

/** Newcombe (1998), Statist. Med. 17, 857-872, table I, method 3. Values from memory; 0 of 20 worked out: z² / (20 + z²) = 3.8415 / 23.8415. */
test.each([
  [81, 263, 0.2553, 0.3662],
  [15, 148, 0.0624, 0.1605],
  [0, 20, 0, 0.1611],
  [1, 29, 0.0061, 0.1718],
])('%i of %i', (hits, count, low, high) => {
  const interval = binomialInterval(hits, count);
  expect(interval.low).toBeCloseTo(low, 4);
  expect(interval.high).toBeCloseTo(high, 4);
});

test('all of few is no certainty; what is no share is refused', () => {
  expect(binomialInterval(3, 3).high).toBe(1);
  expect(binomialInterval(3, 3).low).toBeCloseTo(1 - binomialInterval(0, 3).high, 12);
  expect(() => binomialInterval(1, 0)).toThrow(RangeError);
  expect(() => binomialInterval(4, 3)).toThrow(RangeError);
});
