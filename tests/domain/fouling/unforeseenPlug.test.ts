import { beforeAll, expect, test } from 'vitest';
import type { EvidenceEvent, LineEvidence, ReadingEvent } from '../../../src/domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { Random } from '../../../src/domain/routing/random.js';
import { standardNormal } from '../../../src/domain/statistics/chance.js';

const AS_OF = 20_000;
const CLEANED = AS_OF - 100;
const SD = 0.06;

function camera(day: number, occlusion: number, phase: ReadingEvent['phase'], id: string): ReadingEvent {
  return { kind: 'reading', day, occlusion, sd: SD, bound: 'exact', method: 'camera', phase, id };
}

/** Lines that foul straight on, each at its own rate, seen by camera after 100 to 500 days, last cleaned 100 days ago. */
function lineAt(rate: number, i: number, random: Random): LineEvidence {
  const intervals = Array.from({ length: 4 }, () => 100 + random.below(400));
  let day = CLEANED - intervals.reduce((sum, days) => sum + days, 0);
  const start = { kind: 'clean', day } as const;
  const seen = (level: number) => Math.min(0.94, Math.max(0, level + SD * standardNormal(random)));
  const events = intervals.flatMap((days, k): EvidenceEvent[] => {
    day += days;
    return [
      camera(day, seen(0.04 + days * rate), 'before_cleaning', `${k}/before`),
      { kind: 'clean', day },
      camera(day + 0.05, seen(0.04), 'after_cleaning', `${k}/after`),
    ];
  });
  return {
    lineId: `L${String(i).padStart(3, '0')}`,
    siteId: `S${i % 20}`,
    area: 'A',
    kind: 'footing_drain',
    material: 'pvc',
    boreMm: 100,
    ironMgL: 2,
    start,
    events,
  };
}

let fit: BaseFit;
let quiet: LineEvidence;
const plug = { kind: 'plugged', day: AS_OF - 10, cause: 'deposit', id: 'plug' } as const;

beforeAll(() => {
  const random = new Random(7);
  const lines = Array.from({ length: 80 }, (_, i) =>
    lineAt(0.0008 * Math.exp(0.7 * standardNormal(random)), i, random),
  );
  quiet = lineAt(0.0006, 99, random);
  fit = fitBase([...lines, quiet], AS_OF);
}, 60_000);

const forecastWith = (more: readonly EvidenceEvent[], line = quiet) =>
  forecastLine(fit, { ...line, events: [...line.events, ...more] }, AS_OF);

test('that the line was nowhere near is told, with what was believed of it', () => {
  const [doubt, ...others] = forecastWith([plug]).doubts;
  expect(others).toEqual([]);
  expect(doubt).toMatchObject({ id: 'plug', reason: 'plug_unforeseen' });
  expect(doubt?.suspicion).toBeGreaterThan(0.9);
  expect(doubt?.weight).toBeCloseTo(1 - (doubt?.suspicion ?? 0), 12);
  const believed = Math.round(100 * forecastLine(fit, quiet, plug.day).occlusionNow.mean);
  expect(believed).toBeGreaterThan(3);
  expect(believed).toBeLessThan(20);
  expect(doubt?.text).toContain(`found plugged by deposit although the line was believed at ${believed} %`);
  expect(forecastWith([{ ...plug, cause: 'unknown' }]).doubts[0]?.text).toContain('for an unknown cause');
});

test('a line that was nearly full surprises nobody', () => {
  const full = {
    ...quiet,
    lineId: 'seen once',
    start: { kind: 'unknown', day: AS_OF - 60 } as const,
    events: [],
  };
  expect(forecastWith([camera(AS_OF - 60, 0.85, 'no_cleaning', 'full'), plug], full).doubts).toEqual([]);
});

test('a plug that is the first record of a line of unknown past surprises nobody; of a new pipe, or after one look, it does', () => {
  const first = {
    ...quiet,
    lineId: 'new to us',
    start: { kind: 'unknown', day: plug.day } as const,
    events: [],
  };
  expect(forecastWith([plug], first).doubts).toEqual([]);
  expect(forecastWith([{ kind: 'clean', day: plug.day + 1 }], { ...first, events: [plug] }).doubts).toEqual(
    [],
  );
  const laid = { ...first, start: { kind: 'clean', day: plug.day - 20 } as const };
  expect(forecastWith([plug], laid).doubts.map(({ reason }) => reason)).toEqual(['plug_unforeseen']);
  const seen = { ...first, start: { kind: 'unknown', day: plug.day - 30 } as const };
  const look = camera(plug.day - 30, 0.02, 'no_cleaning', 'look');
  expect(forecastWith([look, plug], seen).doubts.map(({ reason }) => reason)).toContain('plug_unforeseen');
});

test('ice and roots are no fouling, and nothing to judge', () => {
  for (const cause of ['ice', 'roots'] as const)
    expect(forecastWith([{ ...plug, cause }]).doubts).toEqual([]);
});

test('unconfirmed it moves next to nothing; confirmed it is certain, and the line fouls far faster than thought', () => {
  const without = forecastWith([]).ratePerDay.median;
  const open = forecastWith([plug]);
  expect(open.ratePerDay.median).toBeLessThan(1.2 * without);
  expect(open.occlusionNow.mean).toBeLessThan(0.3);
  const confirmed = forecastWith([{ ...plug, confirmed: true }]);
  expect(confirmed.doubts).toEqual([]);
  expect(confirmed.occlusionNow.mean).toBeGreaterThan(0.9);
  expect(confirmed.ratePerDay.median).toBeGreaterThan(4 * without);
});

test('opened, a line whose plug is confirmed is thought to fill again sooner than one whose plug is in doubt', () => {
  const opened = (confirmed: boolean): number =>
    forecastWith([
      { ...plug, confirmed },
      { kind: 'clean', day: plug.day + 1 },
    ])
      .passage(0.9)
      .chanceBy(365);
  expect(opened(false)).toBeLessThan(0.05);
  expect(opened(true)).toBeGreaterThan(0.3);
});

test('a line that plugs a day after its clean, which no rate explains, is full when confirmed', () => {
  const soon = { ...plug, day: CLEANED + 1, confirmed: true };
  const forecast = forecastWith([soon]);
  expect(forecast.occlusionNow.mean).toBeGreaterThan(0.9);
  expect(Number.isFinite(forecast.ratePerDay.median)).toBe(true);
});

test('asked for its doubts a forecast stays the same', () => {
  const forecast = forecastWith([plug]);
  const said = () => [forecast.passage(0.45).quantile(0.1), forecast.ratePerDay.median, forecast.curve(60)];
  const before = said();
  expect(forecast.doubts).toHaveLength(1);
  expect(said()).toEqual(before);
});
