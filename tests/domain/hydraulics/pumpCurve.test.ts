import { expect, test } from 'vitest';
import { powerCurve, pumpCurve } from '../../../src/domain/hydraulics/pumpCurve.js';

test('three points with the shut-off head give back the curve they lie on', () => {
  const curve = powerCurve(6.7, 0.71, 2);
  const fitted = pumpCurve([0, 1.2, 2.4].map((flowLps) => ({ flowLps, headM: curve.headM(flowLps) })));
  for (const flow of [0.3, 1, 2, 2.9]) expect(fitted.headM(flow)).toBeCloseTo(curve.headM(flow), 9);
  expect(fitted.runOutLps).toBeCloseTo(curve.runOutLps, 9);
});

test('a duty point alone: a third more head at no flow, twice the flow at no head', () => {
  const curve = pumpCurve([{ flowLps: 2, headM: 4.5 }]);
  expect(curve.shutOffM).toBeCloseTo(6, 12);
  expect(curve.headM(2)).toBeCloseTo(4.5, 12);
  expect(curve.runOutLps).toBeCloseTo(4, 12);
});

test('other points are joined by straight lines, in any order, and carried on to no head', () => {
  const curve = pumpCurve([
    { flowLps: 3, headM: 1 },
    { flowLps: 1, headM: 5 },
  ]);
  expect(curve.headM(2)).toBeCloseTo(3, 12);
  expect(curve.shutOffM).toBeCloseTo(7, 12);
  expect(curve.runOutLps).toBeCloseTo(3.5, 12);
  const four = pumpCurve([0, 1, 2, 3].map((flowLps) => ({ flowLps, headM: 9 - flowLps ** 2 })));
  expect([0, 0.5, 1.5, 2.5].map(four.headM)).toEqual([9, 8.5, 6.5, 2.5]);
});

test('a curve that rises, is empty or negative is refused', () => {
  const rising = [
    { flowLps: 0, headM: 5 },
    { flowLps: 1, headM: 6 },
  ];
  expect(() => pumpCurve(rising)).toThrow('head must fall as flow rises');
  expect(() => pumpCurve([])).toThrow(RangeError);
  expect(() => pumpCurve([{ flowLps: 0, headM: 6 }])).toThrow('duty point');
  expect(() => pumpCurve([{ flowLps: 1, headM: -2 }])).toThrow(RangeError);
});
