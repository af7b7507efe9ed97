import { describe, expect, test } from 'vitest';
import type { EvidenceEvent, LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { growthShape } from '../../../src/domain/fouling/growthShape.js';
import { type SharedShape, spreadOver } from '../../../src/domain/fouling/searchShape.js';
import { START_PARAMETERS } from '../../../src/domain/fouling/shapeParameters.js';
import {
  layBase,
  poolRound,
  readingLikelihood,
  startPool,
  withVisits,
} from '../../../src/domain/fouling/sharedFit.js';
import { Random } from '../../../src/domain/routing/random.js';

const AS_OF = 20_000;
/** One line's rounds are shorter than another's: the first cycle's level at no days is what it began with. */
const ROUND_DAYS = [40, 80, 160] as const;
const VISITS = 3;
const CAMERA_SD = 0.05;

function normal(random: Random): number {
  return Math.sqrt(-2 * Math.log(1 - random.unit())) * Math.cos(2 * Math.PI * random.unit());
}

/** Old lines of straight growth, read by camera before each clean; the level each began at is normal. */
function oldLines(
  count: number,
  start: { mean: number; sd: number },
  rateSd: number,
  seed: number,
): LineEvidence[] {
  const random = new Random(seed);
  for (let i = 0; i < 20; i++) random.unit();
  return Array.from({ length: count }, (_, i) => {
    const rate = 0.0008 * Math.exp(rateSd * normal(random));
    const round = ROUND_DAYS[i % 3] ?? 80;
    const first = AS_OF - 40 - VISITS * round;
    let level = Math.max(0, start.mean + start.sd * normal(random));
    const events: EvidenceEvent[] = [];
    for (let v = 1; v <= VISITS; v++) {
      const day = first + v * round;
      level += rate * round;
      const seen = Math.max(0, Math.min(1, level + CAMERA_SD * normal(random)));
      events.push({
        kind: 'reading',
        day,
        occlusion: Math.round(100 * seen) / 100,
        sd: 0.08,
        bound: 'exact',
        method: 'camera',
        phase: 'before_cleaning',
        id: `${i}/${v}`,
      });
      events.push({ kind: 'clean', day });
      level = Math.min(level, Math.max(0, 0.04 + 0.02 * normal(random)));
    }
    return {
      lineId: `L${String(i).padStart(4, '0')}`,
      siteId: `S${String(i >> 1).padStart(4, '0')}`,
      area: '',
      kind: 'footing_drain',
      material: 'pvc',
      boreMm: 100,
      ironMgL: 1.5,
      start: { kind: 'unknown', day: first },
      events,
    };
  });
}

describe('old lines whose past nobody knows', () => {
  test.each([
    [0.15, 0.06],
    [0.5, 0.15],
  ])(
    'a base shows where they began: %d ± %d',
    (mean, sd) => {
      const lines = oldLines(120, { mean, sd }, 0.5, 7);
      const fit = fitBase(lines, AS_OF);
      const { unknownMean, unknownSd } = fit.shapes[0]?.parameters ?? START_PARAMETERS;
      expect(Math.abs(unknownMean - mean)).toBeLessThan(0.06);
      expect(unknownSd / sd).toBeGreaterThan(0.5);
      expect(unknownSd / sd).toBeLessThan(2);
      // Growth is straight: what the first cycle holds beforehand is no bend of the law.
      const k1 = fit.shapes.reduce((sum, { k1, weight }) => sum + weight * k1, 0);
      expect(Math.abs(k1)).toBeLessThan(2);
      expect(forecastLine(fit, lines[0]!, AS_OF).occlusionNow.mean).toBeLessThan(0.2);
    },
    240_000,
  );
});

describe('lines that are alike', () => {
  const lines = oldLines(100, { mean: 0.3, sd: 0.1 }, 0, 11);
  const base = layBase(lines, AS_OF);
  const all = withVisits(
    readingLikelihood(base, growthShape(0, 0), { ...START_PARAMETERS, unknownMean: 0.3, unknownSd: 0.1 }),
    startPool(base).visits,
  );
  const settled = (rounds: number, leaps: number) => {
    let pool = startPool(base);
    for (let round = 0; round < rounds; round++) pool = poolRound(base, all, pool, leaps);
    return pool;
  };

  test('are found to be alike: a spread of the rate of less than a seventh, from the usual .63 and .5', () => {
    const { lineVariance, siteVariance } = settled(8, 2);
    expect(Math.sqrt(lineVariance)).toBeLessThan(0.14);
    expect(Math.sqrt(siteVariance)).toBeLessThan(0.14);
  });

  test('leaps end where the plain steps end', () => {
    const plain = settled(400, 0);
    const leapt = settled(30, 2);
    expect(leapt.lineVariance).toBeCloseTo(plain.lineVariance, 3);
    expect(leapt.siteVariance).toBeCloseTo(plain.siteVariance, 3);
  });
});

test('laws that stay lie on both sides of a doubtful one, and none of the belief is lost', () => {
  const law = (k1: number, weight: number): SharedShape => ({
    k1,
    k2: 0,
    weight,
    parameters: START_PARAMETERS,
  });
  const laws = [-0.8, -1.6, -2.4, 0, -3.2, 0.8, 1.6, 2.4].map((k1, i) => law(k1, 0.2 - 0.02 * i));
  const kept = spreadOver(laws);
  const mean = (of: readonly SharedShape[]): number =>
    of.reduce((sum, { k1, weight }) => sum + weight * k1, 0) /
    of.reduce((sum, { weight }) => sum + weight, 0);
  expect(kept.length).toBe(2);
  expect(kept.some(({ k1 }) => k1 > mean(laws))).toBe(true);
  expect(kept.some(({ k1 }) => k1 <= mean(laws) - 0.8)).toBe(true);
  expect(kept.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(
    laws.reduce((sum, { weight }) => sum + weight, 0),
    12,
  );
  // The best two of them would lie .35 further to the left.
  expect(Math.abs(mean(kept) - mean(laws))).toBeLessThan(0.25);
});

test('a law of little weight is not read for itself', () => {
  const law = (k1: number, k2: number, weight: number): SharedShape => ({
    k1,
    k2,
    weight,
    parameters: START_PARAMETERS,
  });
  const kept = spreadOver([law(0.8, -4.5, 0.6), law(0.8, -2, 0.25), law(0, -2, 0.1), law(1.6, -4.5, 0.05)]);
  expect(kept.map(({ k1, k2 }) => [k1, k2])).toEqual([
    [0.8, -4.5],
    [0.8, -2],
  ]);
  expect(kept.map(({ weight }) => weight)).toEqual([expect.closeTo(0.7, 12), expect.closeTo(0.3, 12)]);
  expect(spreadOver([law(0.8, -4.5, 0.8), law(0.8, -2, 0.2)])).toEqual([law(0.8, -4.5, 1)]);
});
