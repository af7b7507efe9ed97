import { expect, test } from 'vitest';
import { LOG_RATES } from '../../../src/domain/fouling/grid.js';
import { type LevelPart, levelMoments, levelQuantiles } from '../../../src/domain/fouling/lineLevel.js';
import { normalCdf } from '../../../src/domain/fouling/normal.js';

/** Log rates about `middle`, the level the higher the faster, under one law. */
function part(share: number, middle: number, level: number, rise: number, sd: number): LevelPart {
  const bell = LOG_RATES.map((theta) => Math.exp(-0.5 * ((theta - middle) / 0.6) ** 2));
  const total = bell.reduce((sum, w) => sum + w, 0);
  return {
    weight: bell.map((w) => (share * w) / total),
    state: {
      mean: LOG_RATES.map((theta) => level * Math.exp(rise * (theta - middle))),
      variance: LOG_RATES.map((theta) => (sd * Math.exp(0.2 * (theta - middle))) ** 2),
    },
  };
}

/** The same by halving, every state on its own. */
function plainQuantile(parts: readonly LevelPart[], p: number): number {
  const below = (x: number): number =>
    parts.reduce(
      (sum, { weight, state }) =>
        weight.reduce(
          (own, w, g) => own + w * normalCdf((x - state.mean[g]!) / Math.sqrt(state.variance[g]!)),
          sum,
        ),
      0,
    );
  let [low, high] = [0, 1];
  for (let i = 0; i < 40; i++) {
    const middle = (low + high) / 2;
    if (below(middle) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

test.each([
  { name: 'a line just cleaned', parts: [part(1, -7, 0.03, 0.05, 0.015)] },
  { name: 'two laws', parts: [part(0.7, -7, 0.2, 0.9, 0.03), part(0.3, -6.5, 0.35, 0.5, 0.08)] },
  { name: 'two heaps', parts: [part(0.45, -7, 0.1, 0.1, 0.01), part(0.55, -5, 0.7, 0.1, 0.02)] },
  { name: 'half below an empty bore', parts: [part(1, -7, 0.005, 0, 0.05)] },
  { name: 'mostly beyond a full one', parts: [part(1, -4, 0.99, 0.05, 0.1)] },
])('quantiles of $name lie where those of every state on its own do', ({ parts }) => {
  const chances = [0.02, 0.1, 0.5, 0.9, 0.98];
  const found = levelQuantiles(parts, chances);
  chances.forEach((p, i) => {
    expect(Math.abs(found[i]! - plainQuantile(parts, p)), `${p}`).toBeLessThan(2e-3);
  });
});

test('a mean lies within the bore', () => {
  expect(levelMoments([part(1, -4, 1.2, 0, 0.1)]).mean).toBe(1);
});
