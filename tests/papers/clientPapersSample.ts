import type { ClientSummaryData } from '../../src/papers/clientSummary.js';
import type { ClientReading } from '../../src/papers/clientWords.js';
import type { DischargeLogData } from '../../src/papers/dischargeLog.js';
import { type LineStoryData, lineStory } from '../../src/papers/lineStory.js';
import type { ReportedLine, VisitReportData } from '../../src/papers/visitReport.js';

const HEAD = {
  businessName: 'Alder Quay Drainworks',
  officePhone: '555 0100',
  businessAddress: '1 Harbour Yard, Alder Quay',
  licence: 'WR-D-0417',
  printedOn: '2026-07-01',
  units: 'metric' as const,
};

export const LINE_STORY_SAMPLE: LineStoryData = {
  name: 'North drain',
  kind: 'footing_drain',
  until: '2026-06-16',
  findings: [
    { on: '2025-06-02', isAfterClean: false, share: 1, plugged: true },
    { on: '2025-06-02', isAfterClean: true, share: 0.12, plugged: false },
    { on: '2025-12-01', isAfterClean: false, share: 0.3, plugged: false },
    { on: '2025-12-01', isAfterClean: true, share: 0.05, plugged: false },
    { on: '2026-06-16', isAfterClean: false, share: 0.38, plugged: false },
    { on: '2026-06-16', isAfterClean: true, share: 0.04, plugged: false },
  ],
  cleans: ['2025-06-02', '2025-12-01', '2026-06-16'],
  tooFull: 0.45,
};

const READING: ClientReading = {
  isDoubted: false,
  isTakenBack: false,
  correctedOn: null,
  on: '2026-06-16',
  occlusion: 0.38,
  plugged: null,
  method: 'camera',
};

const LINE: ReportedLine = {
  name: 'North drain',
  kind: 'footing_drain',
  before: READING,
  after: { ...READING, occlusion: 0.04 },
  passes: 3,
  cameBack: 'slugs',
  chart: lineStory(LINE_STORY_SAMPLE),
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
      before: { ...READING, occlusion: null, plugged: 'deposit', method: null },
      after: null,
      passes: null,
      cameBack: null,
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
  next: {
    told: {
      reckonedOn: '2026-06-17',
      visits: [
        {
          on: '2026-11-20',
          rule: 'risk',
          line: { kind: 'footing_drain', name: null },
          fillsInDays: 152,
          cleans: 3,
        },
      ],
      declined: [],
    },
    known: null,
    seenAgain: [],
  },
  ahead: [
    {
      orderNumbers: [2077],
      tasks: ['test_pump'],
      because: 'Left over from 16 June.',
      promisedOn: '2026-06-23',
    },
    { orderNumbers: [2080, 2081], tasks: ['add_cleanout'], because: null, promisedOn: null },
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
  moreCharts: 0,
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
          counts: true,
          orderNumbers: [1834],
          tasks: ['inspect', 'jet', 'jet', 'test_pump'],
          result: 'done',
        },
        { on: '2026-04-02', counts: true, orderNumbers: [], tasks: [], result: 'done' },
        { on: '2026-06-12', counts: false, orderNumbers: [2041], tasks: ['jet'], result: 'not_done' },
        { on: '2026-06-16', counts: true, orderNumbers: [2041], tasks: ['jet'], result: 'done' },
      ],
      lines: [
        {
          name: 'North drain',
          kind: 'footing_drain',
          cleans: 2,
          fullest: 0.38,
          timesPlugged: 0,
          left: 0.04,
        },
        {
          name: 'Discharge',
          kind: 'sump_discharge',
          cleans: 1,
          fullest: null,
          timesPlugged: 1,
          left: null,
        },
      ],
      waterLitres: 1240,
      sludgeLitres: 85,
      visitsWithoutWater: 1,
      next: VISIT_REPORT_SAMPLE.next.told,
      declined: VISIT_REPORT_SAMPLE.declined,
      declinedProposals: VISIT_REPORT_SAMPLE.declinedProposals,
    },
    {
      address: '2 Mill Row, Wexley Reach',
      visits: [],
      lines: [],
      waterLitres: 0,
      sludgeLitres: 0,
      visitsWithoutWater: 0,
      next: null,
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
  depot: 'Harbour yard',
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
