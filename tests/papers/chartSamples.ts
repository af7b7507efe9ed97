import { addDays } from '../../src/domain/calendar/isoDate.js';
import { classScore } from '../../src/domain/fouling/selfScore.js';
import type { CalibrationChartData } from '../../src/papers/calibrationChart.js';
import type { CapacityChartData } from '../../src/papers/capacityChart.js';
import type { CleanResultsChartData } from '../../src/papers/cleanResultsChart.js';
import type { ColumnsChartData } from '../../src/papers/columnsChart.js';
import type { CostRiskChartData } from '../../src/papers/costRiskChart.js';
import type { DistributionChartData } from '../../src/papers/distributionChart.js';
import type { PumpChartData } from '../../src/papers/pumpChart.js';
import type { ReturnWorkChartData } from '../../src/papers/returnWorkChart.js';
import type { RowsChartData } from '../../src/papers/rowsChart.js';
import type { SurvivalChartData } from '../../src/papers/survivalChart.js';
import type { WorkloadChartData } from '../../src/papers/workloadChart.js';
import type { YearAheadChartData, YearAheadWay } from '../../src/papers/yearAheadChart.js';

/** A class as the figures tell it: judged by the same test. */
function judgedClass(name: string, count: number, expected: number, observed: number) {
  const variance = count * expected * (1 - expected);
  const sums = { name, count: Math.max(1, count), expected: count * expected, passed: observed, variance };
  const { low, high, verdict } = classScore(sums);
  return { name, count, expected, observed, low, high, verdict };
}

export const CALIBRATION_SAMPLE: CalibrationChartData = {
  asOf: '2026-06-15',
  event: 'over the action limit by the due date',
  classes: [
    judgedClass('no reading yet', 40, 0.11, 5),
    judgedClass('1 reading', 310, 0.1, 36),
    judgedClass('2 to 5 readings', 1240, 0.1, 118),
    judgedClass('6 readings and more', 860, 0.1, 121),
    judgedClass('due at once', 95, 0.52, 51),
    judgedClass('reopened after a plug', 0, 0, 0),
    judgedClass('under a slab', 12, 0.1, 4),
  ],
  findings: ['Lines with 6 readings and more: 14.1 % where 10 % was forecast; dates come out late.'],
  bias: {
    methods: [
      { name: 'camera', count: 92, bias: -0.003, standardError: 0.013, verdict: 'within' },
      { name: 'look at the outlet', count: 40, bias: -0.11, standardError: 0.02, verdict: 'lower' },
      { name: 'by word', count: 8, bias: 0.02, standardError: 0.04, verdict: 'too_few' },
    ],
    crews: [{ name: 'Curlew', count: 55, bias: 0.016, standardError: 0.015, verdict: 'within' }],
    tolerance: 0.05,
  },
};

export const COST_RISK_SAMPLE: CostRiskChartData = {
  currency: { code: 'USD', minorDigits: 2 },
  lineCount: 4180,
  points: [
    {
      rule: 'yearly_risk',
      risk: 0.01,
      medianIntervalDays: 96,
      visitsPerLineYear: 3.9,
      plugsPerLineYear: 0.006,
      costPerLineYear: 71_200,
    },
    {
      rule: 'yearly_risk',
      risk: 0.03,
      medianIntervalDays: 141,
      visitsPerLineYear: 2.7,
      plugsPerLineYear: 0.019,
      costPerLineYear: 55_900,
    },
    {
      rule: 'yearly_risk',
      risk: 0.1,
      medianIntervalDays: 208,
      visitsPerLineYear: 1.8,
      plugsPerLineYear: 0.066,
      costPerLineYear: 62_400,
    },
    {
      rule: 'yearly_risk',
      risk: 0.2,
      medianIntervalDays: 265,
      visitsPerLineYear: 1.4,
      plugsPerLineYear: 0.131,
      costPerLineYear: 89_100,
    },
    {
      rule: 'cost_least',
      risk: null,
      medianIntervalDays: 152,
      visitsPerLineYear: 2.5,
      plugsPerLineYear: 0.024,
      costPerLineYear: 54_300,
    },
    {
      rule: 'all_rules',
      risk: 0.01,
      medianIntervalDays: 88,
      visitsPerLineYear: 4.2,
      plugsPerLineYear: 0.004,
      costPerLineYear: 48_000,
    },
    {
      rule: 'all_rules',
      risk: 0.2,
      medianIntervalDays: 91,
      visitsPerLineYear: 4,
      plugsPerLineYear: 0.009,
      costPerLineYear: 46_500,
    },
    {
      rule: 'today',
      risk: null,
      medianIntervalDays: 91,
      visitsPerLineYear: 4.1,
      plugsPerLineYear: 0.007,
      costPerLineYear: 47_100,
    },
  ],
  linesByRisk: 110,
  governing: [
    { rule: 'hardening', lines: 3_900 },
    { rule: 'risk', lines: 110 },
  ],
  risksNow: [0.03, 0.03, 0.1, 0.03],
};

const DEPTHS = Array.from({ length: 21 }, (_, i) => i / 20);
/** A falling curve is all a picture needs; the hydraulics have tests of their own. */
export const CAPACITY_SAMPLE: CapacityChartData = {
  lineName: 'north footing drain',
  boreMm: 101.6,
  units: 'metric',
  basis: 'Manning, n 0.018, fall 1 in 100, full bore',
  curves: [
    {
      name: 'flat deposit, gravity',
      points: DEPTHS.map((d) => ({ depthMm: 101.6 * d, capacityLeft: (1 - d) ** 1.6 })),
    },
    {
      name: 'even coat, gravity',
      points: DEPTHS.map((d) => ({ depthMm: 50.8 * d, capacityLeft: (1 - d) ** (8 / 3) })),
    },
  ],
  marks: [
    { name: 'last reading', depthMm: 22, capacityLeft: (1 - 22 / 101.6) ** 1.6 },
    { name: 'action limit', depthMm: 46, capacityLeft: (1 - 46 / 101.6) ** 1.6 },
  ],
  needed: 0.3,
};

const FLOWS = Array.from({ length: 26 }, (_, i) => i * 0.1);
const pumpHeadM = (q: number): number => 7.4 - 0.5 * q - 0.92 * q * q;
const lineHeadM = (q: number, loss: number): number => 2.4 + loss * q ** 1.852;

/** Where the curves meet, by halving. */
function meeting(loss: number): { flowLps: number; headM: number } {
  let [low, high] = [0, 2.5];
  for (let i = 0; i < 50; i += 1) {
    const middle = (low + high) / 2;
    if (pumpHeadM(middle) > lineHeadM(middle, loss)) low = middle;
    else high = middle;
  }
  return { flowLps: low, headM: pumpHeadM(low) };
}

export const PUMP_SAMPLE: PumpChartData = {
  pumpName: 'main pump, 14 Heron Lane',
  units: 'metric',
  basis:
    'Hazen-Williams C 150, 38 mm, 18 m, 1 swing check and 3 90° elbows, 2.4 m lift; fouled: a third of the bore blocked',
  pump: FLOWS.map((q) => ({ flowLps: q, headM: pumpHeadM(q) })),
  clean: FLOWS.map((q) => ({ flowLps: q, headM: lineHeadM(q, 0.62) })),
  fouled: FLOWS.map((q) => ({ flowLps: q, headM: lineHeadM(q, 1.9) })),
  cleanPoint: meeting(0.62),
  fouledPoint: meeting(1.9),
  scouringLps: 0.7,
  inflowLps: 0.35,
};

export const DISTRIBUTION_SAMPLE: DistributionChartData = {
  title: 'How fast the lines foul',
  asOf: '2026-06-01',
  axis: 'growth a year, share of the bore’s area',
  values: 'share',
  bins: [12, 88, 240, 410, 380, 295, 190, 110, 70, 31, 18, 9].map((count, i) => ({
    from: i / 10,
    to: (i + 1) / 10,
    count,
  })),
  marks: [
    { name: 'median', at: 0.43 },
    { name: 'a tenth is above', at: 0.79 },
  ],
};

const km = (events: readonly number[]): SurvivalChartData['groups'][number]['steps'] =>
  events.map((days, i) => {
    const survival = 1 - (i + 1) * 0.07;
    const half = 0.03 + 0.012 * i;
    return { days, survival, low: Math.max(0, survival - half), high: Math.min(1, survival + half) };
  });
export const SURVIVAL_SAMPLE: SurvivalChartData = {
  title: 'How long lines stay under their action limit',
  lines: 120,
  axis: 'days since the clean',
  groups: [
    {
      name: 'sump discharge',
      count: 140,
      events: 10,
      steps: km([40, 71, 88, 103, 120, 151, 190, 222, 260, 301]),
      censoredDays: [65, 92, 118, 190, 305, 330],
      untilDays: 365,
    },
    {
      name: 'footing drain',
      count: 96,
      events: 6,
      steps: km([90, 140, 176, 230, 290, 333]),
      censoredDays: [100, 180, 181, 300, 365],
      untilDays: 365,
    },
  ],
};

export const WORKLOAD_SAMPLE: WorkloadChartData = {
  weeks: Array.from({ length: 12 }, (_, i) => {
    const visits = 62 + 14 * ((i * 5) % 4) - (i === 6 ? 25 : 0);
    const placedVisits = Math.max(0, Math.round(visits * (1 - i / 4)));
    const q50 = visits * 1.35;
    return {
      monday: addDays('2026-06-15', 7 * i),
      placedVisits,
      placedHours: placedVisits * 1.35,
      visits,
      hours: { q10: q50 * (1 - 0.01 * i) - 4, q50, q90: q50 * (1 + 0.02 * i) + 6 },
      capacityHours: i === 6 ? 80 : 132,
    };
  }),
};

export const COLUMNS_SAMPLE: ColumnsChartData = {
  title: 'Done work, month by month',
  subtitle: '120 lines',
  axis: 'USD',
  parts: ['agreed before', 'agreed on site'],
  columns: [
    { name: 'Sep 2026', values: [12, 4] },
    { name: 'Oct 2026', values: [0, 6] },
    { name: 'Nov 2026', values: [9, 0] },
  ],
  summary: 'Three months of work.',
  notes: ['A note.'],
};

export const ROWS_SAMPLE: RowsChartData = {
  title: 'What is still not known',
  subtitle: '120 lines',
  axis: 'share without the fact',
  parts: ['unknown', 'assumed'],
  set: 'stacked',
  rows: [
    { name: 'bore, of the line', values: [0.4, 0.1], beyond: '60 of 120' },
    { name: 'length, of the line', values: [0.2, 0], beyond: '24 of 120' },
  ],
  summary: 'Most often missing: bore.',
  notes: [],
};

const NOT_MEASURED = {
  before: null,
  measuredBefore: 0,
  after: null,
  measuredAfter: 0,
  regrowthPerMonth: null,
  regrown: 0,
};

export const CLEAN_RESULTS_SAMPLE: CleanResultsChartData = {
  subtitle: '120 lines',
  rows: [
    {
      crew: 'Heron',
      task: 'jet',
      cleans: 40,
      before: 0.35,
      measuredBefore: 38,
      after: 0.06,
      measuredAfter: 20,
      regrowthPerMonth: 0.031,
      regrown: 22,
    },
    { ...NOT_MEASURED, crew: 'Plover', task: 'jet', cleans: 9, before: 0.28, measuredBefore: 9 },
    { ...NOT_MEASURED, crew: 'Curlew', task: 'flush with the hose', cleans: 3 },
  ],
  notes: [],
};

const CAME_BACK = { returns: 0, warranty: 0, goodwill: 0 };
export const RETURN_WORK_SAMPLE: ReturnWorkChartData = {
  subtitle: '120 lines',
  rows: [
    { ...CAME_BACK, crew: 'Heron', task: 'inspect', done: 6 },
    { ...CAME_BACK, crew: 'Plover', task: 'inspect', done: 5 },
    { crew: 'Plover', task: 'jet', done: 29, returns: 1, warranty: 1, goodwill: 0 },
    { ...CAME_BACK, crew: 'Heron', task: 'jet', done: 12 },
    { ...CAME_BACK, crew: 'Curlew', task: 'jet', done: 8 },
  ],
  notes: [],
};

const around = (q50: number) => ({ q10: q50 * 0.8, q50, q90: q50 * 1.3 });
const yearAheadWay = (name: string, capacityHours: number): YearAheadWay => ({
  name,
  weeks: ['2026-10-05', '2026-10-12', '2026-10-19', '2026-10-26'].map((monday, i) => ({
    monday,
    capacityHours,
    visits: around(6),
    hours: around(10),
    waterL: around(4_000),
    backlog: around(8 - 2 * i),
    plugsSoFar: around(i / 6),
  })),
  totals: {
    visits: around(24),
    hours: around(40),
    waterL: around(16_000),
    overtimeHours: around(1),
    plugs: { q10: 0, q50: 0.5, q90: 2 },
  },
  usedShare: { q10: 0.4, q50: 0.42, q90: 0.45 },
});

export const YEAR_AHEAD_SAMPLE: YearAheadChartData = {
  title: 'The weeks to come',
  asOf: '2026-10-01',
  lines: 120,
  runs: 8,
  units: 'metric',
  ways: [yearAheadWay('as it is', 24), yearAheadWay('otherwise', 12)],
  differences: {
    visits: { mean: -12.4, low: -15, high: -9.8, verdict: 'fewer' },
    hours: { mean: -20.2, low: -24, high: -16.4, verdict: 'fewer' },
    waterL: { mean: -900, low: -1_100, high: -700, verdict: 'fewer' },
    backlog: { mean: 6.2, low: 5.1, high: 7.3, verdict: 'more' },
    plugs: { mean: 0.4, low: -1, high: 1.8, verdict: 'cannot_be_told' },
  },
};
