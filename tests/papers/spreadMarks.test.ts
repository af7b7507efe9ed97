import { expect, test } from 'vitest';
import { type Mark, spreadMarks } from '../../src/papers/spreadMarks.js';

const BOX = { left: 0, right: 400, top: 0, bottom: 300 };
const mark = (x: number, y: number, pinned = false): Mark => ({ x, y, width: 30, pinned });
const apart = (a: { x: number; y: number }, b: { x: number; y: number }): boolean =>
  Math.abs(a.x - b.x) >= 31.9 || Math.abs(a.y - b.y) >= 20.9;

test('marks that do not meet stay where they are, give or take a pixel', () => {
  const [a, b] = spreadMarks([mark(50, 50), mark(200, 200)], BOX);
  expect(Math.hypot((a?.x ?? 0) - 50, (a?.y ?? 0) - 50)).toBeLessThan(1);
  expect(Math.hypot((b?.x ?? 0) - 200, (b?.y ?? 0) - 200)).toBeLessThan(1);
});

test('twelve marks on one spot end side by side, inside the box, always the same way', () => {
  const marks = Array.from({ length: 12 }, () => mark(5, 5));
  const placed = spreadMarks(marks, BOX);
  for (const [i, a] of placed.entries()) {
    expect(a.x).toBeGreaterThanOrEqual(15);
    expect(a.y).toBeGreaterThanOrEqual(9);
    for (const b of placed.slice(i + 1)) expect(apart(a, b)).toBe(true);
  }
  expect(spreadMarks(marks, BOX)).toEqual(placed);
});

test('what is pinned keeps its place, and the other gives way', () => {
  const [pinned, other] = spreadMarks([mark(100, 100, true), mark(101, 101)], BOX);
  expect(pinned).toEqual({ x: 100, y: 100 });
  expect(apart({ x: 100, y: 100 }, other ?? { x: 100, y: 100 })).toBe(true);
});
