import { expect, test } from 'vitest';
import {
  bucketFlow,
  fieldDrainMmPerDay,
  isSoundFieldDrain,
} from '../../../src/domain/hydraulics/bucketFlow.js';
import { pvcElbowLengthM } from '../../../src/domain/hydraulics/equivalentLength.js';
import { fullFlow } from '../../../src/domain/hydraulics/manning.js';
import { PIPE_PRODUCTS, PIPES, pipeOf, ROUGHNESS_N } from '../../../src/domain/hydraulics/pipes.js';
import { MATERIALS } from '../../../src/domain/words.js';

test('the nominal size is not the bore: 1-1/2 in Schedule 40 is 40.4 mm wide', () => {
  expect(pipeOf('schedule_40', '1-1/2')).toMatchObject({ material: 'pvc', n: 0.01, c: 150 });
  expect(pipeOf('schedule_40', '1-1/2').boreMm).toBeCloseTo(40.4368, 6);
});

test('every pipe has sizes, roughness and a source', () => {
  for (const product of PIPE_PRODUCTS) {
    const sizes = Object.keys(PIPES[product].boreMm);
    expect(sizes.length).toBeGreaterThan(0);
    for (const nominal of sizes) {
      const pipe = pipeOf(product, nominal);
      expect(pipe.boreMm).toBeGreaterThan(30);
      expect(pipe.source.length).toBeGreaterThan(10);
    }
  }
  for (const material of MATERIALS) expect(ROUGHNESS_N[material]).toBeGreaterThan(0.008);
});

test('the owner puts other numbers in place, size by size, without losing the rest', () => {
  const changes = { corrugated: { n: 0.015, boreMm: { '4': 101 }, source: 'measured by the owner' } };
  expect(pipeOf('corrugated', '4', changes)).toMatchObject({
    boreMm: 101,
    n: 0.015,
    source: 'measured by the owner',
  });
  expect(pipeOf('corrugated', '6', changes).boreMm).toBeCloseTo(152.4, 9);
  expect(pipeOf('corrugated', '4').boreMm).toBeCloseTo(101.6, 9);
});

test('a size the product is not made in is refused with those it is', () => {
  expect(() => pipeOf('sdr_35', '1-1/2')).toThrow('use 4, 6');
  expect(() => pvcElbowLengthM('10')).toThrow(RangeError);
  expect(() => fullFlow(100, 0, 0.01)).toThrow(RangeError);
});

test('a fill under three seconds cannot be timed', () => {
  // Connected Water (Australia), volumetric method: 3 s or longer
  expect(bucketFlow(10, 2.9).usable).toBe(false);
  expect(bucketFlow(10, 3).usable).toBe(true);
  expect(bucketFlow(10, 12, 3).relativeError).toBeLessThan(bucketFlow(10, 12).relativeError);
  expect(() => bucketFlow(0, 5)).toThrow(RangeError);
});

test('a sound field drain gives 7 mm a day or more', () => {
  // VND (Dutch drainage contractors): 200 m at 10 m, one litre in 6 s: 7.2 mm a day
  expect(isSoundFieldDrain(fieldDrainMmPerDay(200, 10, 1 / 6))).toBe(true);
  expect(isSoundFieldDrain(fieldDrainMmPerDay(200, 10, 1 / 7))).toBe(false);
});
