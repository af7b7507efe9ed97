import { expect, test } from 'vitest';
import { occlusionOf, type Reading, type ReadingFacts } from '../../../src/domain/readings/occlusionOf.js';

const LINE: ReadingFacts = {
  kind: 'footing_drain',
  material: 'pvc',
  boreMm: 100,
  slope: 0.01,
  cleanDrawdownMmPerMinute: null,
};

function convert(reading: Reading, facts: Partial<ReadingFacts> = {}) {
  const got = occlusionOf(reading, { ...LINE, ...facts });
  if (!got.ok) throw new Error(JSON.stringify(got.faults));
  return got;
}

test('a deposit 40 % deep blocks 37.4 % of the area, known to about 7 points', () => {
  // 8/pi * sqrt(.4 * .6) = 1.248 a depth share; 3.175 mm of 100 mm: .0396; with .06 for one point only: .0719
  const got = convert({ method: 'outlet_depth', depthMm: 40 });
  expect(got.occlusion).toBeCloseTo(0.37353, 5);
  expect(got.standardError).toBeCloseTo(0.0719, 3);
});

test('a depth needs a bore, and does not exceed it', () => {
  expect(occlusionOf({ method: 'outlet_depth', depthMm: 40 }, { ...LINE, boreMm: null }).ok).toBe(false);
  expect(occlusionOf({ method: 'outlet_depth', depthMm: 120 }, LINE).ok).toBe(false);
});

test('a look that sees much is strong evidence, one that sees nothing is weak', () => {
  expect(convert({ method: 'outlet_look', share: 0.5 }).standardError).toBe(0.1);
  expect(convert({ method: 'outlet_look', share: 0 }).standardError).toBe(0.16);
});

test('a share outside 0 to 1 is refused with the remedy', () => {
  const got = occlusionOf({ method: 'camera', share: 40 }, LINE);
  expect(got).toMatchObject({ ok: false, faults: [{ pointer: '#/reading/share' }] });
});

test('poured water that runs off proves "carries at least this"; backing up proves the contrary', () => {
  const runs = convert({ method: 'poured_flow', flowLps: 0.5, backsUp: false });
  expect(runs.bound).toBe('at_most');
  const backs = convert({ method: 'poured_flow', flowLps: 0.5, backsUp: true });
  expect(backs).toMatchObject({ bound: 'at_least', occlusion: runs.occlusion });
  // 0.007854 m2 x (.025)^(2/3) x .1 / .01 = 6.71 L/s when clean: half a litre a second needs little of it
  expect(runs.occlusion).toBeGreaterThan(0.75);
});

test('draw-down is compared with the same pump after its last clean', () => {
  const none = convert({ method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 100 });
  expect(none.notes[0]?.code).toBe('no-clean-reference');
  // half the flow left at .63 power: d/D about .405, area about .38
  const half = convert(
    { method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 40 },
    { cleanDrawdownMmPerMinute: 120 },
  );
  expect(half.occlusion).toBeGreaterThan(0.35);
  expect(half.occlusion).toBeLessThan(0.42);
  const same = convert(
    { method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 100 },
    { cleanDrawdownMmPerMinute: 120 },
  );
  expect(same.occlusion).toBeLessThan(0.01);
  expect(same.standardError).toBeGreaterThan(0.15); // hidden: the first fifth of the width does not show
});

test('one tap: words and passes map with a wide error, more passes never to less', () => {
  expect(convert({ method: 'by_word', word: 'half' })).toMatchObject({ occlusion: 0.5, standardError: 0.15 });
  const [one, four] = [1, 4].map((passes) => convert({ method: 'passes_to_clear', passes }).occlusion);
  expect(four).toBeGreaterThan(one ?? 1);
});
