import { expect, test } from 'vitest';
import { DEPTH_OF_MOST_FLOW, depthShareOfFlow, partFull } from '../../../src/domain/hydraulics/partFull.js';

test('half full carries half the flow at the full speed', () => {
  expect(partFull(0.5)).toEqual(
    expect.objectContaining({ areaShare: expect.closeTo(0.5, 9), flowShare: expect.closeTo(0.5, 9) }),
  );
  expect(partFull(0.5).speedShare).toBeCloseTo(1, 9);
  expect(partFull(1).flowShare).toBeCloseTo(1, 9);
  expect(partFull(0).flowShare).toBe(0);
});

test('above full flow there are two depths, and the water stands at the lower', () => {
  // Q/Qf = 1.05 at y/D about .87 and again near .98
  const depth = depthShareOfFlow(1.05) ?? 1;
  expect(depth).toBeLessThan(DEPTH_OF_MOST_FLOW);
  expect(partFull(depth).flowShare).toBeCloseTo(1.05, 9);
  const other = 0.985;
  expect(partFull(other).flowShare).toBeGreaterThan(1.03);
});

test('depth and flow are inverse up to the most the pipe carries; beyond it there is no depth', () => {
  for (const depth of [0.05, 0.2, 0.5, 0.8, 0.93]) {
    expect(depthShareOfFlow(partFull(depth).flowShare)).toBeCloseTo(depth, 8);
  }
  expect(depthShareOfFlow(1.08)).toBeNull();
  expect(() => depthShareOfFlow(-1)).toThrow(RangeError);
});
