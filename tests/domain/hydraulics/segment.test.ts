import { expect, test } from 'vitest';
import {
  blockedShareOfDepth,
  blockedShareSlope,
  depthShareOfBlocked,
  gravityCapacityLeft,
} from '../../../src/domain/hydraulics/segment.js';

test('depth, area and capacity shares differ: 40 % deep is 37 % of the area and half the capacity', () => {
  expect(blockedShareOfDepth(0.4)).toBeCloseTo(0.3735, 4);
  expect(gravityCapacityLeft(0.4)).toBeCloseTo(0.501, 3);
});

test('the slope of the blocked share is the change of the share', () => {
  for (const depth of [0.1, 0.35, 0.5, 0.8]) {
    const change = (blockedShareOfDepth(depth + 1e-6) - blockedShareOfDepth(depth - 1e-6)) / 2e-6;
    expect(blockedShareSlope(depth)).toBeCloseTo(change, 6);
  }
});

test('depth of a blocked share and back', () => {
  for (const depth of [0, 0.05, 0.3, 0.5, 0.77, 1]) {
    expect(depthShareOfBlocked(blockedShareOfDepth(depth))).toBeCloseTo(depth, 8);
  }
});

test('a depth outside the bore is refused', () => {
  expect(() => blockedShareOfDepth(1.2)).toThrow(RangeError);
});
