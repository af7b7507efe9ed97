import { expect, test } from 'vitest';
import type { LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { growthShape } from '../../../src/domain/fouling/growthShape.js';
import { START_PARAMETERS } from '../../../src/domain/fouling/shapeParameters.js';
import {
  layBase,
  poolRound,
  readingLikelihood,
  startPool,
  withVisits,
} from '../../../src/domain/fouling/sharedFit.js';

/** Two lines a house, cleaned once, five weeks ago, and never read. */
const unread = (houses: number): LineEvidence[] =>
  Array.from({ length: 2 * houses }, (_, i) => ({
    lineId: `L${String(i).padStart(5, '0')}`,
    siteId: `S${i >> 1}`,
    area: 'Brindle',
    kind: i % 2 === 0 ? 'sump_discharge' : 'footing_drain',
    material: 'unknown',
    boreMm: null,
    ironMgL: null,
    start: { kind: 'unknown', day: 20_691 },
    events: [{ kind: 'clean', day: 20_691 }],
  }));

function believed(houses: number, rounds: number): { median: number; sd: number } {
  const base = layBase(unread(houses), 20_727);
  const readings = readingLikelihood(base, growthShape(0, 0), START_PARAMETERS);
  let pool = startPool(base);
  const all = withVisits(readings, pool.visits);
  for (let round = 0; round < rounds; round++) pool = poolRound(base, all, pool);
  return { median: Math.exp(pool.priorMean[0] ?? 0), sd: Math.sqrt(pool.priorVariance[0] ?? 0) };
}

test('lines that nobody has read are believed to foul as usual, whether there are a few houses or hundreds', () => {
  for (const houses of [3, 60, 600])
    for (const rounds of [6, 40]) {
      const { median, sd } = believed(houses, rounds);
      // .0009 a day is the usual rate; the variances of bases, sites and lines are .4, .25 to .3 and .4 to .5,
      // those of traits nobody has data of .25, .25, .06 and 1: the root of 2.6 to 2.8.
      expect(median, `${houses} ${rounds}`).toBeGreaterThan(0.0006);
      expect(median).toBeLessThan(0.0012);
      expect(sd).toBeLessThan(1.7);
      expect(sd).toBeGreaterThan(0.8);
    }
});
