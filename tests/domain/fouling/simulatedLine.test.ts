import { beforeAll, describe, expect, test } from 'vitest';
import type { EvidenceEvent, LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import {
  beliefsOf,
  cleanLine,
  drawLine,
  growLine,
  type RateBelief,
} from '../../../src/domain/fouling/simulatedLine.js';
import { Random } from '../../../src/domain/routing/random.js';

const AS_OF = 20_000;
const DRAWS = 3_000;

/** Lines of known rates, read by camera before each clean; the last one was never read. */
function base(): LineEvidence[] {
  return Array.from({ length: 40 }, (_, i) => {
    const rate = 0.0006 * Math.exp((i % 8) / 4);
    return {
      lineId: `L${i}`,
      siteId: `S${i % 10}`,
      area: 'A',
      kind: 'footing_drain',
      material: 'pvc',
      boreMm: 100,
      ironMgL: 2,
      start: { kind: 'clean', day: AS_OF - 405 },
      events:
        i === 39
          ? []
          : [315, 225, 135, 45].flatMap((ago, k): EvidenceEvent[] => [
              {
                kind: 'reading',
                day: AS_OF - ago,
                occlusion: Math.min(0.9, 0.03 + 90 * rate * (1 + 0.2 * Math.sin(i + 3 * k))),
                sd: 0.08,
                bound: 'exact',
                method: 'camera',
                phase: 'before_cleaning',
                id: `${i}/${k}`,
              },
              { kind: 'clean', day: AS_OF - ago },
            ]),
    };
  });
}

let fit: BaseFit;
let lines: LineEvidence[];

beforeAll(() => {
  lines = base();
  fit = fitBase(lines, AS_OF);
}, 60_000);

/** Days on which drawn lines first lie past a limit, looked at weekly. */
function passedDays(beliefs: readonly RateBelief[], limit: number): number[] {
  const random = new Random(3);
  return Array.from({ length: DRAWS }, () => {
    const line = drawLine(beliefs, random);
    for (let day = 0; day <= 364; day += 7) {
      if (line.level >= limit) return day;
      growLine(line, AS_OF + day, AS_OF + day + 7, random);
    }
    return Infinity;
  });
}

describe.each([
  { place: 3, what: 'a line read four times' },
  { place: 39, what: 'a line nobody ever read' },
])('$what', ({ place }) => {
  test.each([0.45, 0.9])('drawn and grown passes %d as often as the night forecasts', (limit) => {
    const line = lines[place];
    if (line === undefined) throw new RangeError('line');
    const forecast = forecastLine(fit, line, AS_OF).passage(limit);
    const days = passedDays(beliefsOf(fit, line, AS_OF), limit);
    for (const ahead of [91, 182, 364]) {
      const share = days.filter((day) => day <= ahead).length / DRAWS;
      // Beside the sampling error of .009: the forecast's own rounding of rates and its hazard of an untold change.
      expect(Math.abs(share - forecast.chanceBy(ahead)), `${ahead} days`).toBeLessThan(0.05);
    }
  });
});

test('a clean leaves the residue, never more than there was, and seldom another rate', () => {
  const [first] = lines;
  if (first === undefined) throw new RangeError('line');
  const beliefs = beliefsOf(fit, first, AS_OF);
  const random = new Random(5);
  let sum = 0;
  let changed = 0;
  for (let i = 0; i < DRAWS; i++) {
    const line = drawLine(beliefs, random);
    line.level = 0.6;
    const { ratePerDay } = line;
    cleanLine(line, 365.25, random);
    sum += line.level;
    if (line.ratePerDay !== ratePerDay) changed++;
    line.level = 0.001;
    cleanLine(line, 1, random);
    expect(line.level).toBeLessThanOrEqual(0.001);
  }
  const { residualMean, residualSd, changesPerYear } = fit.shapes[0]?.parameters ?? {
    residualMean: 0,
    residualSd: 0,
    changesPerYear: 0,
  };
  // Cut off at 0, a normal of this mean and spread lies higher by less than half its spread.
  expect(sum / DRAWS).toBeGreaterThan(residualMean - 0.01);
  expect(sum / DRAWS).toBeLessThan(residualMean + 0.5 * residualSd + 0.01);
  expect(Math.abs(changed / DRAWS + Math.expm1(-changesPerYear))).toBeLessThan(0.02);
});
