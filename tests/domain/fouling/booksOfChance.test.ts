import { expect, test } from 'vitest';
import { costAgainstRisk } from '../../../src/domain/fouling/costAgainstRisk.js';
import type { EvidenceEvent, LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { Random } from '../../../src/domain/routing/random.js';
import { settingsWith } from '../../../src/domain/work/settings.js';

const AS_OF = 20_000;
const COSTS = { visit: 1, event: 25, pastDearLimit: 1, hardenedPerDay: 0.001, softDays: 90 };

/** Whatever a door lets in, in any order, at any level: nothing of it need make sense. */
function linesOfChance(seed: number, count: number): LineEvidence[] {
  const random = new Random(seed);
  const between = (least: number, most: number) => least + (most - least) * random.unit();
  const one = <T>(...of: T[]): T => of[Math.floor(random.unit() * of.length)] as T;
  const event = (day: number, id: string): EvidenceEvent => {
    const kind = one('reading', 'reading', 'reading', 'clean', 'plugged', 'regime');
    if (kind === 'clean' || kind === 'regime') return { kind, day };
    if (kind === 'plugged')
      return { kind, day, cause: one('deposit', 'unknown', 'roots'), id, confirmed: one(true, false) };
    return {
      kind: 'reading',
      day,
      occlusion: one(0, 1, between(0, 1)),
      sd: between(0.01, 0.4),
      bound: one('exact', 'exact', 'at_most', 'at_least'),
      method: one('camera', 'outlet_look', 'pit_drawdown'),
      phase: one('before_cleaning', 'no_cleaning'),
      id,
      confirmed: one(true, false, false),
      called: one(true, false, false),
    };
  };
  return Array.from({ length: count }, (_, i) => {
    const from = AS_OF - Math.floor(between(0, 2000));
    const days = Array.from(
      { length: Math.floor(between(0, 9)) },
      () => from + Math.floor(between(0, AS_OF - from + 1)),
    );
    return {
      lineId: `L${i}`,
      siteId: `S${i % 20}`,
      area: one('A', 'B'),
      kind: one('footing_drain', 'sump_discharge'),
      material: one('pvc', 'unknown'),
      boreMm: one(null, between(10, 600)),
      ironMgL: one(null, between(0, 200)),
      start: { kind: one('clean', 'unknown'), day: from - Math.floor(between(0, 3000)) },
      events: days.sort((a, b) => a - b).map((day, k) => event(day, `${i}/${k}`)),
    };
  });
}

test.each([1, 2])(
  'books of pure chance (%i) end in forecasts and costs, not in an exception',
  (seed) => {
    const lines = linesOfChance(seed, 60);
    const fit = fitBase(lines, AS_OF);
    for (const shape of fit.shapes) expect(shape.parameters.grossShare).toBeLessThanOrEqual(0.4);
    for (const line of lines) {
      const { components, occlusionNow, passage } = forecastLine(fit, line, AS_OF);
      expect(Number.isFinite(occlusionNow.mean + occlusionNow.sd)).toBe(true);
      expect(passage(0.45).chanceBy(365)).toBeGreaterThanOrEqual(0);
      for (const limits of [
        { action: 0.45, plug: 0.9 },
        { action: 0.05, plug: 0.05 },
        { action: 0.95, plug: 1 },
      ])
        for (const point of costAgainstRisk([{ components, limits, costs: COSTS }], [0.05], settingsWith({})))
          expect(Number.isFinite(point.costPerLineYear), `${line.lineId} ${JSON.stringify(limits)}`).toBe(
            true,
          );
    }
  },
  120_000,
);
