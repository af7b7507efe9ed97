import { beforeAll, expect, test } from 'vitest';
import type { EvidenceEvent, LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { changeReason } from '../../../src/domain/fouling/lineChange.js';

const AS_OF = 20_454; // 2026-01-01
const GAP_DAYS = 90;
const VISITS = 12;

/** A line seen by camera and cleaned every 90 days, at one rate before a visit and another from it on. */
function lineOf(i: number, before: number, after = before, changesAt = VISITS): LineEvidence {
  return {
    lineId: `L${String(i).padStart(3, '0')}`,
    siteId: `S${i % 12}`,
    area: 'A',
    kind: 'footing_drain',
    material: 'pvc',
    boreMm: 100,
    ironMgL: 2,
    start: { kind: 'clean', day: AS_OF - (VISITS + 1) * GAP_DAYS },
    events: Array.from({ length: VISITS }, (_, k): EvidenceEvent[] => {
      const day = AS_OF - (VISITS - k) * GAP_DAYS;
      // Read wrong by a few points, now above, now below.
      const found = 0.03 + GAP_DAYS * (k < changesAt ? before : after) + 0.03 * Math.sin(7 * i + 5 * k);
      return [
        {
          kind: 'reading',
          day,
          occlusion: found,
          sd: 0.08,
          bound: 'exact',
          method: 'camera',
          phase: 'before_cleaning',
          id: `${i}/${k}`,
        },
        { kind: 'clean', day },
      ];
    }).flat(),
  };
}

let fit: BaseFit;

beforeAll(() => {
  // Rates from .0007 to .003 a day; two lines of forty change, one to four times, one to a quarter.
  const lines = Array.from({ length: 40 }, (_, i) => lineOf(i, 0.0007 * Math.exp((i % 8) * 0.2)));
  lines[3] = lineOf(3, 0.001, 0.004, 8);
  lines[4] = lineOf(4, 0.004, 0.001, 8);
  fit = fitBase(lines, AS_OF);
}, 120_000);

const changeOf = (line: LineEvidence) => forecastLine(fit, line, AS_OF).change;

test('a steady line has not changed', () => {
  expect(changeOf(lineOf(5, 0.0015))).toBeNull();
});

test('a line that fouls four times as fast since a clean is said to have changed about then, and by how much', () => {
  const change = changeOf(lineOf(3, 0.001, 0.004, 8));
  // Visit 8 finds the new rate, so it began with the clean of visit 7, 5 × 90 days ago.
  expect(change?.sinceDay).toBe(AS_OF - 5 * GAP_DAYS);
  expect(change?.chance).toBeGreaterThan(0.9);
  expect(change?.timesAsFast).toBeGreaterThan(2.5);
  expect(change?.timesAsFast).toBeLessThan(5.5);
  if (change) expect(changeReason(change).text).toContain('since about the clean of 2024-10-08');
});

test('a line that slows down is said to', () => {
  expect(changeOf(lineOf(4, 0.004, 0.001, 8))?.timesAsFast).toBeLessThan(0.5);
});

test('one reading a little higher is not enough, and a change long ago is the history of the line', () => {
  expect(changeOf(lineOf(3, 0.001, 0.0013, 11))).toBeNull();
  expect(changeOf(lineOf(3, 0.001, 0.004, 2))).toBeNull();
});

test('a change is told only once something was read after it, and only where it is worth asking about', () => {
  // Seven visits found the old rate, the last four times of it: the clean of that visit is no change by itself.
  const line = lineOf(3, 0.001, 0.004, 8);
  const until = (visits: number) => ({ ...line, events: line.events.slice(0, 2 * visits) });
  const read = forecastLine(fit, until(8), AS_OF - 4 * GAP_DAYS).change;
  expect(read === null || read.sinceDay < AS_OF - 5 * GAP_DAYS).toBe(true);
  for (let i = 0; i < 40; i++) {
    const times = changeOf(lineOf(i, 0.0012, 0.0012 * (0.6 + 0.025 * i), 6))?.timesAsFast;
    if (times !== undefined) expect(Math.max(times, 1 / times)).toBeGreaterThan(1.5);
  }
});

test('a change that was told is none that nobody told of', () => {
  const line = lineOf(3, 0.001, 0.004, 8);
  const toldDay = AS_OF - 5 * GAP_DAYS;
  const events = line.events.flatMap((event): EvidenceEvent[] =>
    event.kind === 'clean' && event.day === toldDay ? [event, { kind: 'regime', day: toldDay }] : [event],
  );
  expect(changeOf({ ...line, events })).toBeNull();
});
