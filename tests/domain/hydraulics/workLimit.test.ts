import { expect, test } from 'vitest';
import { powerCurve } from '../../../src/domain/hydraulics/pumpCurve.js';
import { actionLimit, type Line, USUAL_MARGIN, workLimit } from '../../../src/domain/hydraulics/workLimit.js';

const GRAVITY: Line = { kind: 'gravity', boreMm: 100, slope: 0.01, n: 0.01 };
const PUMPED: Line = {
  kind: 'pumped',
  pump: powerCurve(6.7056, 0.709, 2),
  discharge: {
    boreMm: 40.4368,
    lengthM: 18.288,
    liftM: 2.7432,
    friction: { law: 'hazen_williams', c: 150 },
    fittings: {},
  },
};

test('a gravity line that needs half its capacity does its work to d/D .4, 37 % of the area', () => {
  // full: 6.71 L/s; 2.24 × 1.5 = 3.36 needed, .501 left at d/D .4
  const limit = workLimit(GRAVITY, { peakInflowLps: 2.2404, margin: 1.5 });
  expect(limit.code).toBe('line-no-longer-carries');
  expect(limit.occlusion).toBeCloseTo(0.3735, 2);
  expect(actionLimit(0.45, limit)).toEqual({ occlusion: limit.occlusion, reason: limit });
  expect(limit.text).toContain('37 %');
});

test('a line with capacity to spare keeps the limit of its kind', () => {
  const limit = workLimit(GRAVITY, { peakInflowLps: 0.2, margin: USUAL_MARGIN });
  expect(limit.occlusion).toBeGreaterThan(0.8);
  expect(actionLimit(0.45, limit)).toEqual({ occlusion: 0.45, reason: null });
  expect(actionLimit(0.45, null)).toEqual({ occlusion: 0.45, reason: null });
});

test('a discharge stops doing its work where its pump no longer beats the inflow', () => {
  const low = workLimit(PUMPED, { peakInflowLps: 0.4, margin: 1.5 });
  const high = workLimit(PUMPED, { peakInflowLps: 1.1, margin: 1.5 });
  expect(high.occlusion).toBeLessThan(low.occlusion);
  // 1.65 L/s is 80 to 90 % of the clean 2.0 L/s: a coat that leaves .80 of the width (36 %) is about the end
  expect(high.occlusion).toBeGreaterThan(0.25);
  expect(high.occlusion).toBeLessThan(0.4);
});

test('a line too small even when clean is a finding, not a limit of nought', () => {
  const limit = workLimit(PUMPED, { peakInflowLps: 3, margin: 1.5 });
  expect(limit.code).toBe('line-too-small');
  expect(actionLimit(0.4, limit)).toEqual({ occlusion: 0.4, reason: limit });
  expect(() => workLimit(GRAVITY, { peakInflowLps: 0, margin: 1.5 })).toThrow(RangeError);
});

test('where the pump does not even lift the water, the pump is what is too weak', () => {
  const high: Line = { ...PUMPED, discharge: { ...PUMPED.discharge, liftM: 8 } };
  const limit = workLimit(high, { peakInflowLps: 0.4, margin: 1.5 });
  expect(limit.code).toBe('pump-too-weak');
  expect(limit.text).toBe('the pump lifts no more than 6.7 m, the line rises 8.0 m: not a drop gets through');
  expect(actionLimit(0.4, limit)).toEqual({ occlusion: 0.4, reason: limit });
});
