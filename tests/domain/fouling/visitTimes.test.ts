import { describe, expect, test } from 'vitest';
import type { EvidenceEvent, LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { LOG_RATES, POINTS } from '../../../src/domain/fouling/grid.js';
import { addVisitTimes, intervalsOf, START_VISIT_TIMES } from '../../../src/domain/fouling/visitTimes.js';

const clean = (day: number): EvidenceEvent => ({ kind: 'clean', day });

const lineWith = (events: EvidenceEvent[], ruledFromDay?: number): LineEvidence => ({
  lineId: 'L1',
  siteId: 'S1',
  area: '',
  kind: 'footing_drain',
  material: 'pvc',
  boreMm: 100,
  ironMgL: null,
  start: { kind: 'unknown', day: 0 },
  ...(ruledFromDay === undefined ? {} : { ruledFromDay }),
  events,
});

const meanDays = (line: LineEvidence, asOfDay: number): number =>
  Math.exp(intervalsOf([line], asOfDay).mean[0]!);

describe('intervals that tell of a rate', () => {
  const visits = [clean(0), clean(100), clean(200), clean(230), clean(260)];

  test('all of them where nobody else set the dates: 100, 100, 30, 30 days, and 40 days still open', () => {
    const intervals = intervalsOf([lineWith(visits)], 300);
    expect(intervals.count[0]).toBe(4);
    expect(Math.exp(intervals.mean[0]!)).toBeCloseTo(Math.sqrt(100 * 30), 6);
    expect(intervals.cut[0]).toEqual([Math.log(40)]);
  });

  test('none that ended after this service began to set the dates: 100 and 100, open for 20 days then', () => {
    const intervals = intervalsOf([lineWith(visits, 220)], 300);
    expect(intervals.count[0]).toBe(2);
    expect(meanDays(lineWith(visits, 220), 300)).toBeCloseTo(100, 6);
    expect(intervals.cut[0]).toEqual([Math.log(20)]);
  });

  test('none that are a return to finish the work: 100 days, then 3', () => {
    const intervals = intervalsOf([lineWith([clean(0), clean(100), clean(103)])], 110);
    expect(intervals.count[0]).toBe(1);
    expect(intervals.cut[0]).toEqual([]);
  });

  test('a plug cuts the interval short: the crew would have come later', () => {
    const plug: EvidenceEvent = { kind: 'plugged', day: 80, cause: 'deposit', id: 'p' };
    const intervals = intervalsOf([lineWith([clean(0), plug, clean(80)])], 80);
    expect(intervals.count[0]).toBe(0);
    expect(intervals.cut[0]).toEqual([Math.log(80)]);
  });
});

describe('what short intervals say', () => {
  const said = (nodes: number[], line: LineEvidence): Float64Array => {
    const row = new Float64Array(POINTS);
    addVisitTimes(intervalsOf([line], 130), 0, { ...START_VISIT_TIMES, nodes }, row, 0);
    return row;
  };
  const often = lineWith([clean(0), clean(30), clean(60), clean(90), clean(120)]);

  test('a fast line where crews go to fast lines sooner', () => {
    const sooner = START_VISIT_TIMES.nodes.map((_, k) => Math.log(320) - 0.5 * k);
    const row = said(sooner, often);
    const slow = LOG_RATES.findIndex((theta) => theta > Math.log(0.0003));
    const fast = LOG_RATES.findIndex((theta) => theta > Math.log(0.003));
    expect(row[fast]! - row[slow]!).toBeGreaterThan(1);
  });

  test('nothing where every line is visited alike', () => {
    const row = said(
      START_VISIT_TIMES.nodes.map(() => Math.log(90)),
      often,
    );
    expect(Math.max(...row) - Math.min(...row)).toBeLessThan(1e-9);
  });

  test('nothing at all when this service set every date', () => {
    const sooner = START_VISIT_TIMES.nodes.map((_, k) => Math.log(320) - 0.5 * k);
    const row = said(sooner, { ...often, ruledFromDay: 0 });
    expect(Math.max(...row) - Math.min(...row)).toBe(0);
  });

  test('a pump that reports every second day for years leaves a likelihood at every rate, for it may go its own way', () => {
    const days = Array.from({ length: 450 }, (_, k) => clean(2 * k));
    const row = new Float64Array(POINTS);
    const sooner = START_VISIT_TIMES.nodes.map((_, k) => Math.log(320) - 0.5 * k);
    for (const logSd of [-3, -0.7, 1]) {
      row.fill(0);
      const times = { ...START_VISIT_TIMES, nodes: sooner, logSd };
      addVisitTimes(intervalsOf([lineWith(days)], 900), 0, times, row, 0);
      expect(row.every(Number.isFinite), `${logSd}`).toBe(true);
      // no rate is worse than "visited for reasons of its own", a share of lines of e^-3 with intervals as wide
      expect(Math.max(...row) - Math.min(...row)).toBeLessThan(40);
    }
  });
});
