import { expect, test } from 'vitest';
import { freshRow, reusingRows } from '../../../src/domain/fouling/freshRow.js';

test('rows are zeros of their own, whatever rows came before', () => {
  const rows = Array.from({ length: 500 }, (_, k) => freshRow(1 + (k % 70)).fill(k));
  rows.forEach((row, k) => {
    expect(row).toHaveLength(1 + (k % 70));
    expect(row.every((x) => x === k)).toBe(true);
  });
  expect(freshRow(57).every((x) => x === 0)).toBe(true);
  expect(freshRow(100_000)).toHaveLength(100_000);
});

test('work on the next line gets the same memory, cleared; rows made outside stand', () => {
  const outside = freshRow(57).fill(7);
  const first = reusingRows(() => freshRow(57).fill(1));
  const second = reusingRows(() => [freshRow(57), freshRow(57)] as const);
  expect(second[0].buffer).toBe(first.buffer);
  expect(first.every((x) => x === 0)).toBe(true);
  second[0].fill(2);
  expect(second[1].every((x) => x === 0)).toBe(true);
  expect(outside.every((x) => x === 7)).toBe(true);
  expect(() =>
    reusingRows(() => {
      throw new RangeError('a line that cannot be dated');
    }),
  ).toThrow('cannot be dated');
  expect(freshRow(57).buffer).not.toBe(first.buffer);
});
