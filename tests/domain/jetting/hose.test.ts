import { expect, test } from 'vitest';
import { type Hose, hoseLossKpa, hoseReachM } from '../../../src/domain/jetting/hose.js';

const HOSE: Hose = { lengthM: 60, lossCoefficient: 1100, weightNPerM: 4, drag: 0.5 };

test('a straight line: the hose goes as far as the pull carries its drag', () => {
  // 4 N/m × .5 = 2 N a metre: 50 N pull 25 m
  expect(hoseReachM(50, HOSE)).toBeCloseTo(25, 9);
  expect(hoseReachM(0, HOSE)).toBe(0);
  expect(hoseReachM(500, HOSE)).toBe(60);
});

test('a bend multiplies the tension behind it by e^(drag · angle)', () => {
  // at 10 m 20 N; round 90°: × e^(.5 π/2) = 2.193, 43.9 N; left of 50 N: 6.1 N, 3.07 m more
  const bend = { atM: 10, degrees: 90 };
  expect(hoseReachM(50, HOSE, [bend])).toBeCloseTo(10 + (50 - 20 * Math.exp((0.5 * Math.PI) / 2)) / 2, 9);
  // a bend at the entry costs nothing yet, a later one more than an earlier one
  expect(hoseReachM(50, HOSE, [{ atM: 0, degrees: 90 }])).toBeCloseTo(25, 9);
  expect(hoseReachM(50, HOSE, [{ atM: 4, degrees: 90 }])).toBeGreaterThan(hoseReachM(50, HOSE, [bend]));
});

test('a bend the hose cannot be pulled around ends the way; one beyond the reach does not matter', () => {
  expect(hoseReachM(50, HOSE, [{ atM: 12, degrees: 90 }])).toBe(12); // 24 N × 2.193 = 52.6 N > 50 N
  expect(hoseReachM(50, HOSE, [{ atM: 30, degrees: 90 }])).toBeCloseTo(25, 9);
});

test('bends in any order, and more of them never reach further', () => {
  const bends = [
    { atM: 9, degrees: 45 },
    { atM: 3, degrees: 90 },
  ];
  expect(hoseReachM(40, HOSE, bends)).toBe(hoseReachM(40, HOSE, [...bends].reverse()));
  expect(hoseReachM(40, HOSE, bends)).toBeLessThan(hoseReachM(40, HOSE, bends.slice(1)));
});

test('twice the flow loses four times the pressure, half the hose half of it', () => {
  const loss = hoseLossKpa(0.5, 30, 1100);
  expect(hoseLossKpa(1, 30, 1100)).toBeCloseTo(4 * loss, 9);
  expect(hoseLossKpa(0.5, 15, 1100)).toBeCloseTo(loss / 2, 9);
});
