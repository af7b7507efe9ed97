import { expect, test } from 'vitest';
import { colebrook, frictionFactor } from '../../../src/domain/hydraulics/darcyWeisbach.js';
import type { DischargeLine, Fouling } from '../../../src/domain/hydraulics/dischargeLine.js';
import { occlusionOfPumpedShare, operatingPoint } from '../../../src/domain/hydraulics/operatingPoint.js';
import { powerCurve } from '../../../src/domain/hydraulics/pumpCurve.js';
import { scours } from '../../../src/domain/hydraulics/scouring.js';

const PUMP = powerCurve(6.7056, 0.709, 2);
const LINE: DischargeLine = {
  boreMm: 40.4368,
  lengthM: 18.288,
  liftM: 2.7432,
  friction: { law: 'hazen_williams', c: 150 },
  fittings: {},
};
const flowAt = (occlusion: number, shape: Fouling['shape'] = 'even_coat') =>
  operatingPoint(PUMP, LINE, { occlusion, shape })?.flowLps ?? 0;

test('a discharge hides fouling until a fifth of its width is gone, then drops fast', () => {
  // bore 90, 80, 70 and 50 % of the clean one
  const shares = [0.9, 0.8, 0.7, 0.5].map((left) => flowAt(1 - left * left) / flowAt(0));
  expect(shares[0]).toBeGreaterThan(0.9);
  expect(shares[1]).toBeGreaterThan(0.78);
  expect(shares[2]).toBeLessThan(0.66);
  expect(shares[3]).toBeLessThan(0.32);
});

test('more deposit, more length, more lift or more fittings never moves more', () => {
  for (let occlusion = 0; occlusion < 0.95; occlusion += 0.05) {
    expect(flowAt(occlusion + 0.05)).toBeLessThan(flowAt(occlusion));
  }
  const clean = flowAt(0);
  for (const change of [{ lengthM: 30 }, { liftM: 4 }, { fittings: { swing_check: 1 } }]) {
    expect(operatingPoint(PUMP, { ...LINE, ...change })?.flowLps).toBeLessThan(clean);
  }
});

test('a flat deposit leaves a worse section than an even coat of the same area', () => {
  expect(flowAt(0.4, 'flat_deposit')).toBeLessThan(flowAt(0.4));
  expect(flowAt(0.4, 'flat_deposit') / flowAt(0.4)).toBeGreaterThan(0.93);
});

test('a pump that cannot lift the water moves none', () => {
  expect(operatingPoint(PUMP, { ...LINE, liftM: 7 })).toBeNull();
  expect(occlusionOfPumpedShare(PUMP, { ...LINE, liftM: 7 }, 0.5)).toBeNull();
});

test('the occlusion that slowed the pump is found again, for either shape', () => {
  for (const shape of ['even_coat', 'flat_deposit'] as const) {
    for (const occlusion of [0.1, 0.36, 0.6, 0.85]) {
      const share = flowAt(occlusion, shape) / flowAt(0);
      expect(occlusionOfPumpedShare(PUMP, LINE, share, shape)).toBeCloseTo(occlusion, 6);
    }
  }
  expect(occlusionOfPumpedShare(PUMP, LINE, 1.2)).toBe(0);
});

test('the narrowed line runs faster: scouring is judged in what is left open', () => {
  const clean = operatingPoint(PUMP, LINE);
  const fouled = operatingPoint(PUMP, LINE, { occlusion: 0.4, shape: 'even_coat' });
  expect(fouled?.speedMps).toBeGreaterThan(clean?.speedMps ?? 9);
  expect(scours(clean?.speedMps ?? 0, 'pressure_line')).toBe(true); // 2.0 L/s in 40.4 mm: 1.56 m/s, over .61
  expect(scours(0.3, 'silt')).toBe(false);
});

test('a trickle runs laminar, 64/Re, and friction has no step where it turns', () => {
  expect(frictionFactor(1000, 0.001)).toBeCloseTo(0.064, 12);
  expect(frictionFactor(2000.001, 0.001)).toBeCloseTo(frictionFactor(2000, 0.001), 6);
  expect(frictionFactor(3999.999, 0.001)).toBeCloseTo(colebrook(4000, 0.001), 6);
});
