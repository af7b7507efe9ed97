import { expect, test } from 'vitest';
import type { EvidenceEvent } from '../../../src/domain/fouling/evidence.js';
import { POINTS, RATES } from '../../../src/domain/fouling/grid.js';
import { growthShape } from '../../../src/domain/fouling/growthShape.js';
import { filterLine, filterState } from '../../../src/domain/fouling/lineFilter.js';
import { lineSteps } from '../../../src/domain/fouling/lineSteps.js';
import { normalCdf, normalDensity } from '../../../src/domain/fouling/normal.js';
import { START_PARAMETERS } from '../../../src/domain/fouling/shapeParameters.js';
import { newPipe, reading } from './newPipe.js';

const STILL = { ...START_PARAMETERS, growthNoise: 0, timeNoise: 0, changesPerYear: 0 };
const MIDDLE = 28;
const straight = growthShape(0, 0);

function filtered(events: EvidenceEvent[], parameters = STILL) {
  const state = filterState();
  filterLine(lineSteps([newPipe(events)], 10_000), 0, straight, parameters, state);
  return state;
}

test('a reading is weighed as a Kalman filter does, but for the slip share', () => {
  // new pipe .01 ± .01, grown by r·100 days; reading .20 ± .05: gain p / (p + .05²)
  const m = 0.01 + RATES[MIDDLE]! * 100;
  const p = 0.0001;
  const gain = p / (p + 0.0025 + 0.01 ** 2 / 12);
  const state = filtered([reading(100, 0.2)], { ...STILL, grossShare: 1e-9 });
  expect(state.mean[MIDDLE]).toBeCloseTo(m + gain * (0.2 - m), 6);
  expect(state.variance[MIDDLE]).toBeCloseTo(p * (1 - gain), 7);
});

test('a clean leaves the lesser of residue and level: mean and variance of the minimum of two normals (Clark 1961)', () => {
  const m = 0.01 + RATES[MIDDLE]! * 30;
  const [left, s2, p] = [0.04, 0.03 ** 2, 0.0001];
  const a = Math.sqrt(p + s2);
  const z = (m - left) / a;
  const mean = m * normalCdf(-z) + left * normalCdf(z) - a * normalDensity(z);
  const square =
    (m * m + p) * normalCdf(-z) + (left * left + s2) * normalCdf(z) - (m + left) * a * normalDensity(z);
  const state = filtered([{ kind: 'clean', day: 30 }]);
  expect(state.mean[MIDDLE]).toBeCloseTo(mean, 6);
  // deposit is never negative: its spread stays below its mean
  expect(state.variance[MIDDLE]).toBeCloseTo(Math.min(square - mean * mean, mean * mean * 0.5), 7);
});

test('a fast line is left with the residue alone, a slow one never with more than it had', () => {
  const state = filtered([{ kind: 'clean', day: 400 }]);
  expect(state.mean[POINTS - 1]).toBeCloseTo(0.04, 6);
  expect(state.mean[0]!).toBeLessThan(0.01 + RATES[0]! * 400);
});

test('the free bore entered for the blocked bore still tells the level', () => {
  // 1 − .90 = .10: with the reading turned the filter lands where the right reading would have put it
  const wrong = filtered([reading(200, 0.9)], { ...STILL, growthNoise: 0.02 });
  const right = filtered([reading(200, 0.1)], { ...STILL, growthNoise: 0.02 });
  expect(wrong.mean[20]!).toBeCloseTo(right.mean[20]!, 2);
});

test('who measures a share saw no plug: rates that would have filled the bore are ruled out', () => {
  const state = filtered([reading(300, 0.3)]);
  expect(state.weight[POINTS - 1]! / Math.max(...state.weight)).toBeLessThan(1e-3);
});

test('a look tells less where there is little to see', () => {
  const look = (occlusion: number, day: number) =>
    filtered([reading(day, occlusion, { method: 'outlet_look' })], {
      ...STILL,
      growthNoise: 0.02,
      grossShare: 1e-9,
    });
  // error .16 at a clean outlet, .10 where much is seen: gain = p / (p + error²)
  const gainAt = (day: number, occlusion: number): number => {
    const before = filtered([reading(day, 0.5, { bound: 'at_least', sd: 1e3 })], {
      ...STILL,
      growthNoise: 0.02,
    });
    const after = look(occlusion, day);
    return (after.mean[MIDDLE]! - before.mean[MIDDLE]!) / (occlusion - before.mean[MIDDLE]!);
  };
  const level = 0.01 + RATES[MIDDLE]! * 100;
  const p = 0.0001 + 0.02 * RATES[MIDDLE]! * 100;
  const error = 0.1 * (1 + 0.6 * (1 - level / 0.3));
  expect(gainAt(100, 0.4)).toBeCloseTo(p / (p + error * error + 0.05 ** 2 / 12), 2);
});

test('a reading that a person confirmed counts in full, however odd', () => {
  const odd = reading(200, 0.6);
  const doubted = filtered([odd]);
  const confirmed = filtered([{ ...odd, confirmed: true }]);
  const slow = 10;
  const fast = 40;
  const ratio = ({ weight }: (typeof odd & never) | { weight: Float64Array }): number =>
    weight[fast]! / weight[slow]!;
  expect(ratio(confirmed)).toBeGreaterThan(20 * ratio(doubted));
});

test.each(['exact', 'at_least'] as const)(
  'a confirmed reading (%s) is where the level is, under rates that did not expect it too',
  (bound) => {
    const found = { ...reading(200, 1), bound, confirmed: true };
    const { mean, variance, weight } = filtered([found]);
    for (let g = 0; g < 50; g++) {
      expect(mean[g]).toBeGreaterThan(0.8);
      expect(variance[g]).toBeGreaterThan(0);
      expect(weight[g]).toBeGreaterThan(0);
    }
  },
);

test('however little is known, the level spreads no wider than within a bore', () => {
  // Found plugged, then a look that saw nothing, and growth that speeds up: straight lines through it know no bounds.
  const events: EvidenceEvent[] = [
    { kind: 'plugged', day: 750, cause: 'deposit', id: 'p' },
    { ...reading(751, 0), method: 'outlet_look' },
    { kind: 'regime', day: 760 },
    reading(800, 0.4),
  ];
  const state = filterState();
  const wide = { ...START_PARAMETERS, unknownSd: 0.4 };
  const steps = lineSteps([{ ...newPipe(events), start: { kind: 'unknown', day: 0 } }], 10_000);
  for (const [k1, k2] of [
    [3.2, 0],
    [2, -4.5],
    [-3.2, -4.5],
  ] as const) {
    filterLine(steps, 0, growthShape(k1, k2), wide, state);
    expect(Math.max(...state.variance), `${k1}`).toBeLessThanOrEqual(0.3);
    expect(Math.min(...state.mean)).toBeGreaterThan(-0.5);
    expect(Math.max(...state.mean)).toBeLessThan(1.5);
  }
});
