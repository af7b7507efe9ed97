import { beforeAll, expect, test } from 'vitest';
import type { EvidenceEvent, LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';

const AS_OF = 20_000;

/** Steady lines seen every 90 days by camera before and after a clean, without any noise. */
function base(rates: number[]): LineEvidence[] {
  return rates.map((rate, i) => ({
    lineId: `L${String(i).padStart(3, '0')}`,
    siteId: `S${i % 20}`,
    area: 'A',
    kind: 'footing_drain',
    material: 'pvc',
    boreMm: 100,
    ironMgL: 2,
    start: { kind: 'clean', day: AS_OF - 405 },
    events: [315, 225, 135, 45].flatMap((ago, k): EvidenceEvent[] => [
      {
        kind: 'reading',
        day: AS_OF - ago,
        occlusion: Math.min(0.9, 0.03 + 90 * rate),
        sd: 0.08,
        bound: 'exact',
        method: 'camera',
        phase: 'before_cleaning',
        id: `${i}/${k}`,
      },
      { kind: 'clean', day: AS_OF - ago },
    ]),
  }));
}

const RATES = Array.from({ length: 60 }, (_, i) => 0.0004 * Math.exp((i % 12) / 5));
let fit: BaseFit;
let lines: LineEvidence[];

beforeAll(() => {
  lines = base(RATES);
  fit = fitBase(lines, AS_OF);
});

const dueDays = (line: LineEvidence, from = fit) =>
  forecastLine(from, line, AS_OF).passage(0.45).quantile(0.1);

test('the fit and the dates do not depend on the order of the lines', () => {
  const turned = fitBase([...lines].reverse(), AS_OF);
  expect(JSON.stringify(turned)).toBe(JSON.stringify(fit));
});

test('a fast line is due before a slow one, and the rate is found within a quarter', () => {
  const [slow, fast] = [forecastLine(fit, lines[0]!, AS_OF), forecastLine(fit, lines[11]!, AS_OF)];
  expect(fast.passage(0.45).quantile(0.5)!).toBeLessThan(slow.passage(0.45).quantile(0.5)!);
  expect(Math.abs(Math.log(fast.ratePerDay.median / RATES[11]!))).toBeLessThan(Math.log(1.25));
});

test('the chance of having passed never falls, and a nearer limit is passed sooner', () => {
  const forecast = forecastLine(fit, lines[5]!, AS_OF);
  const [action, plug] = [forecast.passage(0.45), forecast.passage(0.9)];
  for (let day = 1; day < 4000; day += 97) {
    expect(action.chanceBy(day)).toBeGreaterThanOrEqual(action.chanceBy(day - 1));
    expect(action.chanceBy(day)).toBeGreaterThanOrEqual(plug.chanceBy(day) - 1e-12);
  }
});

test('a line with no reading goes through the same function and gets a finite, wider belief', () => {
  const bare: LineEvidence = {
    ...lines[5]!,
    lineId: 'NEW',
    siteId: 'S-new',
    events: [],
    start: { kind: 'clean', day: AS_OF - 30 },
  };
  const [cold, known] = [forecastLine(fit, bare, AS_OF), forecastLine(fit, lines[5]!, AS_OF)];
  expect(cold.readingsUsed).toBe(0);
  expect(dueDays(bare)).toBeGreaterThan(0);
  const width = ({ ratePerDay: r }: typeof cold) => Math.log(r.q90 / r.q10);
  expect(width(cold)).toBeGreaterThan(width(known));
});

test('one wrong reading neither halves nor doubles the due date, and is doubted', () => {
  const line = lines[5]!;
  const wrong: LineEvidence = {
    ...line,
    // the free bore was entered in place of the blocked one
    events: line.events.map((event, k) =>
      k === 4 && event.kind === 'reading' ? { ...event, occlusion: 1 - event.occlusion, sd: 0.05 } : event,
    ),
  };
  const [before, after] = [dueDays(line)!, dueDays(wrong)!];
  expect(after / before).toBeGreaterThan(0.5);
  expect(after / before).toBeLessThan(2);
  expect(forecastLine(fit, wrong, AS_OF).doubts.map(({ id }) => id)).toContain('5/2');
});

test('a new line half full after 18 months gives 2.2 to 3.2 points a month (common practice, no source)', () => {
  // 50 points in 18 months are 2.8 a month; neighbours pull a little
  const line: LineEvidence = {
    ...lines[5]!,
    lineId: 'HALF',
    siteId: 'S-half',
    start: { kind: 'clean', day: AS_OF - 548 },
    events: [
      {
        kind: 'reading',
        day: AS_OF,
        occlusion: 0.5,
        sd: 0.05,
        bound: 'exact',
        method: 'camera',
        phase: 'no_cleaning',
        id: 'h',
      },
    ],
  };
  const monthly = forecastLine(fit, line, AS_OF).ratePerDay.median * (365.25 / 12) * 100;
  expect(monthly).toBeGreaterThan(2.2);
  expect(monthly).toBeLessThan(3.2);
});

test('components carry the whole belief about the rate', () => {
  const cold: LineEvidence = { ...lines[5]!, lineId: 'NEW', siteId: 'S-new', events: [] };
  const { components } = forecastLine(fit, cold, AS_OF);
  expect(components.length).toBeGreaterThan(5);
  expect(components.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12);
  expect(components[0]!.passageAfterClean(0.45).quantile(0.5)!).toBeGreaterThan(
    components.at(-1)!.passageAfterClean(0.45).quantile(0.5)!,
  );
});

test('keeping the shapes and pooling anew changes little when nothing is new', () => {
  const again = fitBase(lines, AS_OF, { from: fit, keepShape: true });
  expect(Math.abs(dueDays(lines[5]!, again)! - dueDays(lines[5]!)!)).toBeLessThan(3);
});

test('a line is what its readings agree on, however far from its like: eight times .30 after 120 days, of slow soil', () => {
  const slow = RATES.map((_, i) => 0.0001 * Math.exp((i % 6) / 12));
  const soils = [...base(slow), ...base(RATES)].map((line, i) => ({
    ...line,
    lineId: `of soils ${i}`,
    siteId: `site ${i}`,
    ironMgL: i < slow.length ? 0.1 : 4,
  }));
  const learned = fitBase(soils, AS_OF);
  const restless: BaseFit = {
    ...learned,
    shapes: learned.shapes.map((law) => ({ ...law, parameters: { ...law.parameters, changesPerYear: 0.5 } })),
  };
  const sample = soils[0]!;
  const events = [840, 720, 600, 480, 360, 240, 120, 0].flatMap((ago, k): EvidenceEvent[] => [
    { ...sample.events[0]!, day: AS_OF - ago, occlusion: 0.3, id: `odd/${k}` } as EvidenceEvent,
    { kind: 'clean', day: AS_OF - ago },
  ]);
  const odd: LineEvidence = {
    ...sample,
    lineId: 'odd',
    siteId: 'odd',
    start: { kind: 'clean', day: AS_OF - 960 },
    events,
  };
  // Straight growth passes .45 after 180 days.
  const half = forecastLine(restless, odd, AS_OF).passage(0.45).quantile(0.5)!;
  expect(half).toBeGreaterThan(120);
  expect(half).toBeLessThan(270);
});
