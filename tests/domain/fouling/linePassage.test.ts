import { describe, expect, test } from 'vitest';
import { costGrid } from '../../../src/domain/fouling/costCycle.js';
import { LOG_RATES, POINTS, RATES } from '../../../src/domain/fouling/grid.js';
import { growthShape, levelToY, slopeAt } from '../../../src/domain/fouling/growthShape.js';
import type { LineBelief } from '../../../src/domain/fouling/lineBelief.js';
import { filterState } from '../../../src/domain/fouling/lineFilter.js';
import { LinePassages } from '../../../src/domain/fouling/linePassage.js';
import { normalCdf, normalDensity } from '../../../src/domain/fouling/normal.js';
import { chancesBy } from '../../../src/domain/fouling/passage.js';
import { AHEAD } from '../../../src/domain/fouling/passageTable.js';
import {
  type ShapeParameters,
  START_PARAMETERS,
  seasonDays,
  YEAR_DAYS,
} from '../../../src/domain/fouling/shapeParameters.js';

const AS_OF = 20_700;
const SHARED: ShapeParameters = {
  ...START_PARAMETERS,
  seasonCos: 0.2,
  seasonSin: 0.3,
  timeNoise: 1e-5,
  lagDays: 0.01,
};

/** Log rates about `median`, level about `level`, under one growth law. */
function believed(
  k1: number,
  k2: number,
  share: number,
  median: number,
  level: number,
  changesPerYear = SHARED.changesPerYear,
): LineBelief {
  const bell = LOG_RATES.map((theta) => Math.exp(-0.5 * ((theta - Math.log(median)) / 0.5) ** 2));
  const believed = bell.map((w) => (w < 1e-4 ? 0 : w));
  const total = believed.reduce((sum, w) => sum + w, 0);
  const state = filterState();
  // The faster the line, the more it will hold by now.
  for (let g = 0; g < POINTS; g++) {
    state.mean[g] = Math.min(0.95, level * (1 + 0.1 * (LOG_RATES[g]! - Math.log(median))));
    state.variance[g] = 0.003;
  }
  return {
    shape: growthShape(k1, k2),
    parameters: { ...SHARED, changesPerYear },
    weight: believed.map((w) => (share * w) / total),
    changedWeight: bell.map((w) => (share * w) / total),
    lag: { days: 0, variance: 0 },
    state,
  };
}

/** The same chances in the plainest way: every rate on its own, nothing tabulated. */
function plainChance(
  { shape, parameters }: LineBelief,
  level: { y: number; variance: number },
  rate: number,
  limit: number,
  days: number,
): number {
  const growth = rate * Math.max(0, seasonDays(parameters, AS_OF, AS_OF + days));
  const time = parameters.timeNoise * days;
  const nearer = growth > 0 ? Math.min((0.5 * time) / growth, 0.8 * Math.sqrt(time)) : 0;
  const variance = level.variance + parameters.growthNoise * growth + time;
  const z = (level.y - levelToY(shape, limit) + growth + nearer) / Math.sqrt(variance);
  const skewness = Math.min(1, (2 * parameters.growthNoise ** 2 * growth) / variance ** 1.5);
  return Math.max(0, Math.min(1, normalCdf(z) + (skewness / 6) * (z * z - 1) * normalDensity(z)));
}

function levelAt({ shape, state }: LineBelief, g: number): { y: number; variance: number } {
  const slope = slopeAt(shape, state.mean[g]!);
  return { y: levelToY(shape, state.mean[g]!), variance: state.variance[g]! / slope ** 2 };
}

function plainLine(beliefs: readonly LineBelief[], limit: number, days: number): number {
  let sum = 0;
  for (const belief of beliefs) {
    const { weight, changedWeight, parameters } = belief;
    const share = -Math.expm1((-0.3 * parameters.changesPerYear * days) / YEAR_DAYS);
    let [kept, total, first, second] = [0, 0, 0, 0];
    for (let g = 0; g < POINTS; g++) {
      if (weight[g]! <= 0) continue;
      const at = levelAt(belief, g);
      kept += weight[g]! * plainChance(belief, at, RATES[g]!, limit, days);
      total += weight[g]!;
      first += weight[g]! * at.y;
      second += weight[g]! * (at.y ** 2 + at.variance);
    }
    const mean = first / total;
    const about = { y: mean, variance: second / total - mean ** 2 };
    let [changed, changedTotal] = [0, 0];
    for (let g = 0; g < POINTS; g++) {
      changed += changedWeight[g]! * plainChance(belief, about, RATES[g]!, limit, days);
      changedTotal += changedWeight[g]!;
    }
    sum += (1 - share) * kept + (share * total * changed) / changedTotal;
  }
  return sum;
}

const lines = [
  [believed(0, 0, 0.7, 0.001, 0.2), believed(-1.2, -2, 0.3, 0.0008, 0.2, 0.3)],
  [believed(0, 0, 0.4, 0.004, 0.6), believed(1.6, -4.5, 0.6, 0.005, 0.6)],
  [believed(0.8, 0, 1, 0.00005, 0.04)],
];

describe.each(lines.map((beliefs, i) => ({ i, beliefs })))('line $i', ({ beliefs }) => {
  const line = new LinePassages(beliefs, AS_OF);
  const { components } = line;

  test('its passages are those of every rate on its own, changes of regime included', () => {
    for (const limit of [0.4, 0.9]) {
      // Rates are taken together and days left out where that changes no chance by a thousandth; years ahead the
      // season falls between the days.
      for (const days of AHEAD.filter((_, d) => d % 5 === 0)) {
        const off = Math.abs(line.passage(limit).chanceBy(days) - plainLine(beliefs, limit, days));
        expect(off).toBeLessThan(days < 900 ? 5e-4 : 3e-3);
      }
      const half = line.passage(limit).quantile(0.5);
      if (half !== null && half > 0)
        expect(Math.abs(plainLine(beliefs, limit, half) - 0.5)).toBeLessThan(0.002);
    }
  });

  test('its components are its rates, from now and from the day after a clean', () => {
    expect(components.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 6);
    const residue = (belief: LineBelief) => {
      const slope = slopeAt(belief.shape, SHARED.residualMean);
      return { y: levelToY(belief.shape, SHARED.residualMean), variance: (SHARED.residualSd / slope) ** 2 };
    };
    const mixed = (from: 'passage' | 'passageAfterClean', limit: number, days: number): number =>
      components.reduce((sum, each) => sum + each.weight * each[from](limit).chanceBy(days), 0);
    const plain = (
      levelOf: (belief: LineBelief, g: number) => { y: number; variance: number },
      days: number,
    ) =>
      beliefs.reduce(
        (sum, belief) =>
          sum +
          belief.weight.reduce(
            (own, w, g) =>
              w > 0 ? own + w * plainChance(belief, levelOf(belief, g), RATES[g]!, 0.5, days) : own,
            0,
          ),
        0,
      );
    for (const days of [0, 20, 4380]) {
      expect(Math.abs(mixed('passage', 0.5, days) - plain(levelAt, days))).toBeLessThan(1e-5);
      expect(Math.abs(mixed('passageAfterClean', 0.5, days) - plain(residue, days))).toBeLessThan(1e-5);
    }
  });

  test('read at many days at once they are the same as day by day, where they run straight from day to day', () => {
    const grid = costGrid(730);
    for (const component of components) {
      for (const each of [component.passage(0.9), component.passageAfterClean(0.9)]) {
        const many = chancesBy(each, grid);
        grid.forEach((day, i) => {
          expect(Math.abs(many[i]! - each.chanceBy(day))).toBeLessThan(3e-3);
        });
      }
    }
  });
});

test('what holds after a clean is kept for one day: another day has another season', () => {
  const beliefs = lines[0]!;
  const by = (asOfDay: number): number =>
    new LinePassages(beliefs, asOfDay).components.at(-1)!.passageAfterClean(0.4).chanceBy(120);
  const first = by(AS_OF);
  expect(by(AS_OF + 180)).not.toBeCloseTo(first, 3);
  expect(by(AS_OF)).toBe(first);
});
