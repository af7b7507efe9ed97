import { expect, test } from 'vitest';
import {
  type Nozzle,
  nozzleFlowLps,
  nozzlePressureKpa,
  nozzlePullN,
} from '../../../src/domain/jetting/nozzle.js';

const NOZZLE: Nozzle = {
  rear: { count: 4, boreMm: 1, angleFromAxisDeg: 30 },
  front: null,
  coefficient: 0.95,
  diameterMm: 20,
  rigidLengthMm: 160,
};

test('jets add, and flow goes with the root of the pressure', () => {
  const one = nozzleFlowLps({ ...NOZZLE, rear: { ...NOZZLE.rear, count: 1 } }, 10_000);
  expect(nozzleFlowLps(NOZZLE, 10_000)).toBeCloseTo(4 * one, 12);
  expect(nozzleFlowLps(NOZZLE, 40_000)).toBeCloseTo(8 * one, 12);
});

test('the pressure that passes a flow passes that flow', () => {
  const pressure = nozzlePressureKpa(NOZZLE, 0.5);
  expect(nozzleFlowLps(NOZZLE, pressure)).toBeCloseTo(0.5, 12);
});

test('front jets push back, jets set wider pull less', () => {
  const pull = nozzlePullN(NOZZLE, 15_000);
  expect(nozzlePullN({ ...NOZZLE, front: { count: 1, boreMm: 1 } }, 15_000)).toBeLessThan(pull);
  expect(nozzlePullN({ ...NOZZLE, rear: { ...NOZZLE.rear, angleFromAxisDeg: 60 } }, 15_000)).toBeLessThan(
    pull,
  );
  // 2 p c A cos 30 of four 1 mm jets at 150 bar: 2 × 15e6 × .95 × 3.1416e-6 × .866 = 77.5 N
  expect(pull).toBeCloseTo(77.5, 0);
});

test('a negative pressure is refused', () => {
  expect(() => nozzleFlowLps(NOZZLE, -1)).toThrow(RangeError);
});
