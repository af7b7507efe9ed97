import type { ClientSummaryData } from '../../src/papers/clientSummary.js';
import type { DischargeLogData } from '../../src/papers/dischargeLog.js';
import { trendChart } from '../../src/papers/trendChart.js';
import type { ReportedLine, VisitReportData } from '../../src/papers/visitReport.js';
import { TREND_SAMPLE } from './trendSample.js';

const HEAD = { businessName: 'Alder Quay Drainworks', officePhone: '555 0100', units: 'metric' as const };

const LINE: ReportedLine = {
  name: 'North drain',
  kind: 'footing_drain',
  before: { isDoubted: false, on: '2026-06-16', occlusion: 0.38, plugged: null, method: 'camera' },
  after: { isDoubted: false, on: '2026-06-16', occlusion: 0.04, plugged: null, method: 'camera' },
  passes: 3,
  cameBack: 'slugs',
  next: { on: '2026-11-20', rule: 'hardening' },
  chart: trendChart(TREND_SAMPLE),
};

export const VISIT_REPORT_SAMPLE: VisitReportData = {
  ...HEAD,
  currency: { code: 'USD', minorDigits: 2 },
  orderNumber: 2041,
  clientName: 'Renske Oakley',
  address: '14 Heron Lane, Wexley Reach',
  because: [
    '2.4 % chance of plugging within a year if nobody comes; yearly limit is 2 % for a finished basement.',
  ],
  tries: [
    { on: '2026-06-12', crew: 'Heron crew', result: 'not_done', reason: 'gate', flowProven: null },
    { on: '2026-06-16', crew: 'Heron crew', result: 'done', reason: null, flowProven: 'yes' },
  ],
  tasks: [
    {
      kind: 'inspect',
      target: 'Discharge (sump discharge)',
      result: 'done',
      reason: null,
      added: null,
      declinedBy: null,
    },
    {
      kind: 'jet',
      target: 'North drain (footing drain)',
      result: 'done',
      reason: null,
      added: null,
      declinedBy: null,
    },
    {
      kind: 'clear_outlet',
      target: 'Discharge (sump discharge)',
      result: 'done',
      reason: null,
      added: { priceMinor: 9_000, by: 'R. Oakley' },
      declinedBy: null,
    },
    {
      kind: 'hose_flush',
      target: 'Stair drain (floor drain)',
      result: 'not_done',
      reason: 'refused',
      added: { priceMinor: 4_500, by: null },
      declinedBy: 'R. Oakley',
    },
    {
      kind: 'test_pump',
      target: 'pit',
      result: 'not_done',
      reason: 'out_of_time',
      added: null,
      declinedBy: null,
    },
  ],
  lines: [
    LINE,
    {
      ...LINE,
      name: 'Discharge',
      kind: 'sump_discharge',
      before: { isDoubted: false, on: '2026-06-16', occlusion: null, plugged: 'deposit', method: null },
      after: null,
      passes: null,
      cameBack: null,
      next: null,
      chart: null,
    },
  ],
  water: [
    {
      receiver: 'caught',
      place: null,
      reference: null,
      waterLitres: 640,
      sludgeLitres: 45,
      sludgeTo: 'Quay works',
    },
  ],
  ahead: [
    { orderNumber: 2077, tasks: ['test_pump'], because: 'Left over from 16 June.', promisedOn: '2026-06-23' },
    { orderNumber: 2080, tasks: ['add_cleanout'], because: null, promisedOn: null },
  ],
  declinedProposals: [
    {
      kind: 'alarm',
      target: 'the pit',
      by: 'A. Reed',
      on: '2026-03-01',
      because: 'one more thing that beeps',
      evidence: ['No alarm on the pump, and the basement is finished.'],
    },
  ],
  declined: [
    {
      kind: 'postponement',
      task: 'dig_and_replace',
      lines: ['Discharge'],
      by: 'R. Oakley',
      on: '2026-06-16',
      until: '2027-04-01',
      riskTold: 'about one chance in ten that it plugs before',
    },
  ],
  photographs: [],
  morePhotographs: 0,
};

export const CLIENT_SUMMARY_SAMPLE: ClientSummaryData = {
  ...HEAD,
  clientName: 'Renske Oakley',
  year: 2026,
  upTo: '2026-12-31',
  houses: [
    {
      address: '14 Heron Lane, Wexley Reach',
      visits: [
        {
          on: '2026-01-20',
          orderNumber: 1834,
          tasks: ['inspect', 'jet', 'jet', 'test_pump'],
          result: 'done',
        },
        { on: '2026-06-12', orderNumber: 2041, tasks: ['jet'], result: 'not_done' },
        { on: '2026-06-16', orderNumber: 2041, tasks: ['jet'], result: 'done' },
      ],
      lines: [
        {
          name: 'North drain',
          kind: 'footing_drain',
          cleans: 2,
          fullest: 0.38,
          timesPlugged: 0,
          left: 0.04,
          next: { on: '2027-01-20', rule: 'hardening' },
          dated: true,
        },
        {
          name: 'Discharge',
          kind: 'sump_discharge',
          cleans: 1,
          fullest: null,
          timesPlugged: 1,
          left: null,
          next: null,
          dated: true,
        },
      ],
      waterLitres: 1240,
      sludgeLitres: 85,
      declined: VISIT_REPORT_SAMPLE.declined,
      declinedProposals: VISIT_REPORT_SAMPLE.declinedProposals,
    },
    {
      address: '2 Mill Row, Wexley Reach',
      visits: [],
      lines: [],
      waterLitres: 0,
      sludgeLitres: 0,
      declinedProposals: [],
      declined: [],
    },
  ],
};

const ENTRY = {
  day: '2026-06-16',
  seconds: 31_500,
  orderNumber: 2041,
  address: '14 Heron Lane, Wexley Reach',
  receiver: 'caught' as const,
  place: null,
  reference: null,
  waterLitres: 640,
  sludgeLitres: 45,
  sludgeTo: 'Quay works',
  isPlanned: { water: false, sludge: false },
  author: 'Ib Falk',
};

export const DISCHARGE_LOG_SAMPLE: DischargeLogData = {
  ...HEAD,
  from: '2026-06-01',
  to: '2026-06-30',
  entries: [
    ENTRY,
    {
      ...ENTRY,
      day: '2026-06-17',
      orderNumber: 2044,
      receiver: 'own_ground',
      sludgeLitres: null,
      sludgeTo: null,
      isPlanned: { water: true, sludge: false },
    },
    {
      ...ENTRY,
      day: '2026-06-18',
      orderNumber: 2047,
      receiver: 'storm_drain',
      place: 'inlet at Quay Side 34',
      reference: 'P-12',
      waterLitres: 380,
    },
    {
      ...ENTRY,
      day: '2026-06-19',
      orderNumber: 2050,
      receiver: 'water_body',
      place: 'Marsh brook',
      waterLitres: null,
    },
  ],
};
