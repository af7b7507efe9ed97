import { expect, test } from 'vitest';
import { outUntil } from '../../../src/domain/work/crewOut.js';

const crew = { now: 960, shiftEnd: 960, returnsAt: 1000, hasLeft: true, visitsLeft: 1 };

test('a crew on the road past its shift is out until its route brings it back', () => {
  expect(outUntil(crew)).toBe(1000);
  expect(outUntil({ ...crew, visitsLeft: 0 })).toBe(1000);
  // Behind its own times, with work before it: still out.
  expect(outUntil({ ...crew, now: 1010 })).toBe(1010);
});

test('a crew that is back, never left, or has no route goes by its shift', () => {
  expect(outUntil({ ...crew, now: 1010, visitsLeft: 0 })).toBe(960);
  expect(outUntil({ ...crew, hasLeft: false })).toBe(960);
  expect(outUntil({ ...crew, returnsAt: null })).toBe(960);
  expect(outUntil({ ...crew, returnsAt: 900 })).toBe(960);
});
