import { expect, test } from 'vitest';
import { bookedCapacityData } from '../../src/papers/capacityChartData.js';

const LINE = { name: 'Drain', boreMm: 100, n: 0.01, c: 150, cAssumed: false, slope: null };
const dataOf = (isPumped: boolean, occlusion: number) =>
  bookedCapacityData({ ...LINE, isPumped }, [{ name: 'now', occlusion }], 'metric');

test('a gravity line shows what is believed as a flat deposit, a pumped one as an even coat', () => {
  // Half the bore blocked by a flat deposit is half its depth; .36003 of the gravity capacity is left.
  const [flat] = dataOf(false, 0.5).marks;
  expect(flat?.depthMm).toBeCloseTo(50, 6);
  expect(flat?.capacityLeft).toBeCloseTo(0.3600295452, 6);
  // A coat of 10 mm blocks 1 − .8² = .36 of the bore and leaves .8^2.63 = .55607 of the flow at the same head.
  const [coat] = dataOf(true, 0.36).marks;
  expect(coat?.depthMm).toBeCloseTo(10, 6);
  expect(coat?.capacityLeft).toBeCloseTo(0.5560664153, 6);
});

test('an unknown fall is said, and an empty or solid bore is no mark', () => {
  expect(dataOf(false, 0.5).basis).toContain('fall unknown');
  expect([dataOf(true, 0).marks, dataOf(true, 1).marks]).toEqual([[], []]);
});
