import { beforeAll, describe, expect, test } from 'vitest';
import type {
  EvidenceEvent,
  LineEvidence,
  LineForecast,
  ReadingEvent,
} from '../../../src/domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { agreedFinds } from '../../../src/domain/fouling/lineDoubts.js';

const AS_OF = 20_000;
const RATES = Array.from({ length: 40 }, (_, i) => 0.0008 * Math.exp((i % 8) / 8));

function camera(day: number, occlusion: number, phase: ReadingEvent['phase'], id: string): ReadingEvent {
  return { kind: 'reading', day, occlusion, sd: 0.08, bound: 'exact', method: 'camera', phase, id };
}

/** Steady lines cleaned every 300 days, seen by camera before and after. */
function lineAt(rate: number, i: number): LineEvidence {
  return {
    lineId: `L${String(i).padStart(3, '0')}`,
    siteId: `S${i % 10}`,
    area: 'A',
    kind: 'footing_drain',
    material: 'pvc',
    boreMm: 100,
    ironMgL: 2,
    start: { kind: 'clean', day: AS_OF - 1600 },
    events: [1300, 1000, 700, 400, 100].flatMap((ago, k): EvidenceEvent[] => [
      camera(AS_OF - ago, Math.min(0.9, 0.03 + 300 * rate), 'before_cleaning', `${k}/before`),
      { kind: 'clean', day: AS_OF - ago },
      camera(AS_OF - ago + 0.05, 0.04, 'after_cleaning', `${k}/after`),
    ]),
  };
}

let fit: BaseFit;
const line = lineAt(0.001, 3);

beforeAll(() => {
  fit = fitBase(RATES.map(lineAt), AS_OF);
});

function doubtsWith(change: (event: ReadingEvent) => ReadingEvent) {
  const events = line.events.map((event) => (event.kind === 'reading' ? change(event) : event));
  return forecastLine(fit, { ...line, events }, AS_OF).doubts;
}

const withOcclusion = (id: string, occlusion: number) => (event: ReadingEvent) =>
  event.id === id ? { ...event, occlusion } : event;

test('a steady line is not doubted', () => {
  expect(doubtsWith((event) => event)).toEqual([]);
});

test('the free bore entered for the blocked bore is named', () => {
  // an outlet cleaned to 4 % written down as 96 %
  const [doubt] = doubtsWith(withOcclusion('2/after', 0.96));
  expect(doubt).toMatchObject({ id: '2/after', reason: 'free_bore_entered' });
  expect(doubt?.text).toContain('4 % would fit');
  expect(doubt?.suspicion).toBeGreaterThan(0.9);
});

test('a per cent divided twice is named', () => {
  // 33 % before cleaning written down as .33 %
  const [doubt] = doubtsWith(withOcclusion('3/before', 0.0033));
  expect(doubt).toMatchObject({ id: '3/before', reason: 'divided_twice' });
});

test('before and after swapped are named', () => {
  const doubts = doubtsWith((event) =>
    event.id === '2/before'
      ? { ...event, occlusion: 0.04 }
      : event.id === '2/after'
        ? { ...event, occlusion: 0.33 }
        : event,
  );
  expect(doubts.map(({ reason }) => reason)).toContain('phases_swapped');
});

test('what fits no slip is said not to fit', () => {
  const [doubt] = doubtsWith(withOcclusion('2/after', 0.45));
  expect(doubt).toMatchObject({
    id: '2/after',
    reason: 'does_not_fit',
    text: expect.stringContaining('45 %'),
  });
});

test('a reading a person confirmed is not doubted again, and moves the forecast', () => {
  const odd = withOcclusion('4/before', 0.75);
  const confirmed = (event: ReadingEvent) => ({
    ...odd(event),
    ...(event.id === '4/before' ? { confirmed: true } : {}),
  });
  expect(doubtsWith(odd).map(({ id }) => id)).toContain('4/before');
  expect(doubtsWith(confirmed).map(({ id }) => id)).not.toContain('4/before');
  const rateWith = (change: (event: ReadingEvent) => ReadingEvent): number =>
    forecastLine(
      fit,
      { ...line, events: line.events.map((event) => (event.kind === 'reading' ? change(event) : event)) },
      AS_OF,
    ).ratePerDay.median;
  expect(rateWith(confirmed)).toBeGreaterThan(1.03 * rateWith(odd));
});

describe('two high looks', () => {
  const DAY = AS_OF - 30;
  const with2 = (first: number, second: number, apart: number) =>
    forecastLine(
      fit,
      {
        ...line,
        events: [
          ...line.events,
          camera(DAY, first, 'no_cleaning', 'one'),
          camera(DAY + apart, second, 'no_cleaning', 'two'),
        ],
      },
      AS_OF,
    );
  const doubted = (forecast: LineForecast) => forecast.doubts.map(({ id }) => id);

  test('one is doubted, and would have fitted with little', () => {
    const alone = { ...line, events: [...line.events, camera(DAY, 0.8, 'no_cleaning', 'one')] };
    const [doubt] = forecastLine(fit, alone, AS_OF).doubts;
    expect(doubt).toMatchObject({ id: 'one' });
    // .03 + 70 days × .001
    expect(doubt?.fits).toBeLessThanOrEqual(0.2);
  });
  test('of different days that agree are no slip, and say so', () => {
    const forecast = with2(0.8, 0.78, 3);
    expect(doubted(forecast)).not.toContain('one');
    expect(doubted(forecast)).not.toContain('two');
    expect(forecast.evidence.events.filter((event) => 'agreed' in event)).toHaveLength(2);
  });
  test('of one day, or far apart, bear nothing out', () => {
    const agreed = (first: number, second: number, apart: number) =>
      agreedFinds(
        [camera(DAY, first, 'no_cleaning', 'one'), camera(DAY + apart, second, 'no_cleaning', 'two')],
        ['one', 'two'].map((id) => ({ id, fits: 0.1 })),
      ).size;
    expect(agreed(0.8, 0.78, 3)).toBe(2);
    expect(agreed(0.8, 0.78, 0.2)).toBe(0);
    // 2 × .08 × √2 = .226
    expect(agreed(0.8, 0.56, 3)).toBe(0);
    expect(agreed(0.05, 0.06, 3)).toBe(0); // low ones
  });
  test('with a clean between them they tell of two cycles', () => {
    const events: EvidenceEvent[] = [
      camera(DAY, 0.8, 'before_cleaning', 'one'),
      { kind: 'clean', day: DAY + 0.1 },
      camera(DAY + 3, 0.8, 'no_cleaning', 'two'),
    ];
    expect(
      agreedFinds(
        events,
        ['one', 'two'].map((id) => ({ id, fits: 0.1 })),
      ).size,
    ).toBe(0);
  });
});
