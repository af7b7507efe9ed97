import fc from 'fast-check';
import { beforeAll, expect, test } from 'vitest';
import { lineHistory } from '../../../src/domain/fouling/dueDateHistory.js';
import { dueDateOfFinds } from '../../../src/domain/fouling/dueDateOfFinds.js';
import type { EvidenceEvent, LineEvidence, ReadingEvent } from '../../../src/domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { lineVisits } from '../../../src/domain/fouling/lineVisits.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';
import { quietLine } from './knownLines.js';

const AS_OF = 20_783;
const LIMIT = 0.45;
/** Days of far finds that are all alike differ by the grain of the figures. */
const GRAIN_DAYS = 2;
const STEPS = Array.from({ length: 21 }, (_, i) => i / 20);

function camera(day: number, occlusion: number, id: string): ReadingEvent {
  const phase = 'before_cleaning';
  return { kind: 'reading', day, occlusion, sd: 0.05, bound: 'exact', method: 'camera', phase, id };
}

const ownedBy = (lineId: string, events: EvidenceEvent[]): LineEvidence => ({
  lineId,
  siteId: `site of ${lineId}`,
  area: 'A',
  kind: 'footing_drain',
  material: 'pvc',
  boreMm: 100,
  ironMgL: 0.1,
  start: { kind: 'unknown', day: (events[0]?.day ?? AS_OF) - 1 },
  events,
});

let fit: BaseFit;
beforeAll(() => {
  const base = Array.from({ length: 40 }, (_, i) => {
    const rate = 0.0004 * Math.exp((i % 8) / 3);
    const events = [1300, 1000, 700, 400, 100].flatMap((ago, k): EvidenceEvent[] => [
      camera(
        AS_OF - ago,
        Math.min(0.9, 0.03 + 300 * rate * (1 + 0.1 * Math.sin(7 * i + 3 * k))),
        `${i}/${k}`,
      ),
      { kind: 'clean', day: AS_OF - ago },
    ]);
    return ownedBy(`L${i}`, events);
  });
  fit = fitBase(base, AS_OF);
}, 60_000);

/** Visits every `every` days that found the given shares, the last clean 60 days ago; then a find 5 days ago. */
function datedWith(
  before: readonly number[],
  every: number,
  last: number,
  cleaned: boolean,
): { day: number; unsure: boolean } {
  const lastClean = AS_OF - 60;
  const history = before.flatMap((share, k): EvidenceEvent[] => {
    const day = lastClean - every * (before.length - 1 - k);
    return [camera(day, share, `r${k}`), { kind: 'clean', day: day + 0.05 }];
  });
  const events: EvidenceEvent[] = [
    { kind: 'clean', day: lastClean - every * before.length },
    ...history,
    camera(AS_OF - 5, last, 'last'),
    ...(cleaned ? [{ kind: 'clean' as const, day: AS_OF - 4.9 }] : []),
  ];
  const line = ownedBy('new', events);
  const believed = forecastLine(fit, line, AS_OF);
  const due = dueDateOfFinds(believed, (forecast) =>
    quietLine({
      forecast,
      consequence: { basement: 'basement', wholeSystem: false },
      history: lineHistory(
        lineVisits(forecast.evidence.events, forecast.doubts),
        null,
        LIMIT,
        DEFAULT_SETTINGS,
      ),
      bookedSinceDay: events[0]?.day ?? 0,
    }),
  );
  return { day: Math.max(AS_OF, due.dueDay ?? Infinity), unsure: believed.unsure.has('last') };
}

const dueWith = (...ask: Parameters<typeof datedWith>): number => datedWith(...ask).day;

test('a worse find is never due later than a lower one of the same moment that is believed, from 5 to 100 %', () => {
  const around = fc.double({ min: 0.05, max: 0.35, noNaN: true });
  fc.assert(
    fc.property(
      around.chain((mean) =>
        fc.array(fc.double({ min: 0.8 * mean, max: 1.2 * mean, noNaN: true }), { maxLength: 8 }),
      ),
      fc.integer({ min: 20, max: 200 }),
      fc.boolean(),
      (before, every, cleaned) => {
        const dated = STEPS.slice(1).map((share) => datedWith(before, every, share, cleaned));
        // what is too little to be believed proves nothing, so it is no find to compare with
        const believedFrom = dated.findIndex(({ unsure }) => !unsure);
        let least = Infinity;
        for (const { day } of dated.slice(Math.max(0, believedFrom))) {
          expect(day).toBeLessThanOrEqual(least + GRAIN_DAYS);
          least = Math.min(least, day);
        }
      },
    ),
    { numRuns: 10, seed: 7, endOnFailure: true },
  );
}, 120_000);

test('seven visits that found a fifth each time: more is sooner, and so far off that it is doubted is due within 30 days', () => {
  const std = [0.2, 0.23, 0.19, 0.21, 0.18, 0.22, 0.2];
  for (const cleaned of [false, true]) {
    const little = dueWith(std, 120, 0.1, cleaned);
    for (const much of [0.6, 0.75, 0.9]) {
      expect(dueWith(std, 120, much, cleaned)).toBeLessThanOrEqual(AS_OF - 5 + 30);
      expect(little).toBeGreaterThan(AS_OF + 90);
    }
  }
});
