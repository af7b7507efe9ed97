import { addDays } from '../../src/domain/calendar/isoDate.js';
import type { TrendChartData, TrendPoint, TrendReading } from '../../src/papers/trendChartData.js';

const TODAY = '2026-06-15';
const CLEANS = ['2024-05-06', '2024-11-18', '2025-06-02', '2025-12-08'];

/** Grows along a straight line from `start`, the band widening with the days. */
function growth(from: string, days: number, start: number, perDay: number, spread: number): TrendPoint[] {
  return Array.from({ length: Math.floor(days / 7) + 1 }, (_, week) => {
    const q50 = Math.min(1, start + perDay * week * 7);
    const half = spread + 0.0004 * week * 7;
    return { on: addDays(from, week * 7), q10: Math.max(0, q50 - half), q50, q90: Math.min(1, q50 + half) };
  });
}

const reading = (on: string, occlusion: number, more: Partial<TrendReading> = {}): TrendReading => ({
  on,
  phase: 'before_cleaning',
  method: 'camera',
  occlusion,
  standardError: 0.08,
  bound: 'exact',
  plugged: null,
  weight: 1,
  confirmed: false,
  ...more,
});

/** A line of the demo world with one reading of nearly every kind. */
export const TREND_SAMPLE: TrendChartData = {
  siteName: '14 Heron Lane',
  lineName: 'north footing drain',
  kind: 'footing_drain',
  material: 'corrugated_hdpe',
  boreMm: 101.6,
  units: 'metric',
  today: TODAY,
  readings: [
    reading('2024-02-12', 0.31, {
      method: 'outlet_look',
      phase: 'no_cleaning',
      bound: 'at_least',
      standardError: 0.1,
    }),
    reading('2024-05-06', 0.58),
    reading('2024-05-06', 0.07, { phase: 'after_cleaning' }),
    reading('2024-08-20', 0.22, { method: 'outlet_depth', phase: 'no_cleaning', standardError: 0.09 }),
    reading('2024-11-18', 0.4, { method: 'passes_to_clear', standardError: 0.18 }),
    reading('2025-01-20', 0.97, {
      method: 'by_word',
      phase: 'no_cleaning',
      plugged: 'ice',
      standardError: 0.03,
      weight: 1,
    }),
    reading('2025-03-10', 0.86, {
      method: 'by_word',
      phase: 'no_cleaning',
      weight: 0.12,
      standardError: 0.15,
    }),
    reading('2025-06-02', 0.46, { method: 'pit_drawdown', standardError: 0.16 }),
    reading('2025-06-02', 0.1, { phase: 'after_cleaning' }),
    reading('2025-09-01', 0.3, {
      method: 'poured_flow',
      phase: 'no_cleaning',
      bound: 'at_most',
      standardError: 0.12,
    }),
    reading('2025-12-08', 1, { plugged: 'deposit', standardError: 0 }),
    reading('2025-12-08', 0.05, { phase: 'after_cleaning' }),
    reading('2026-04-07', 0.27, {
      method: 'timed_fill',
      phase: 'no_cleaning',
      bound: 'at_most',
      standardError: 0.12,
    }),
  ],
  cleans: CLEANS.map((on) => ({ on, measured: on !== '2024-11-18' })),
  past: [
    growth('2024-02-12', 84, 0.32, 0.0024, 0.12),
    growth('2024-05-06', 196, 0.08, 0.0019, 0.04),
    growth('2024-11-18', 196, 0.1, 0.0021, 0.06),
    growth('2025-06-02', 189, 0.09, 0.0024, 0.04),
    growth('2025-12-08', 189, 0.06, 0.0016, 0.04),
  ],
  future: growth(TODAY, 240, 0.36, 0.0017, 0.1),
  limits: { action: 0.45, plug: 0.9 },
  due: { on: '2026-08-04', rule: 'risk' },
  pluggedSince: null,
  pace: {
    from: '2026-06-15',
    to: '2026-09-14',
    occlusionFrom: 0.36,
    occlusionTo: 0.53,
    perMonth: 0.057,
    yearlyMean: 0.07,
    season: { ofYear: 0.8, fastestOn: '2027-03-14', fastest: 1.3 },
  },
};
