import { expect, test } from 'vitest';
import { type LineFacts, layPacked, nightLine } from '../../src/actions/night/lineEvidence.js';
import type { NightEvent } from '../../src/actions/night/nightEvents.js';
import { packEvents } from '../../src/actions/night/packEvents.js';
import { dayNumber } from '../../src/domain/calendar/isoDate.js';
import { layLines } from '../../src/domain/fouling/lineRead.js';

const DAY = '2026-10-05';

const facts = (lineId: string, epochStartedOn: string | null): LineFacts => ({
  lineId,
  siteId: 'S1',
  kind: 'footing_drain',
  material: 'pvc',
  basement: 'finished',
  area: 'A',
  boreMm: 100,
  ironMgL: 2,
  underSlab: false,
  staysWet: null,
  actionLimit: null,
  plugLimit: null,
  isDischarge: false,
  pitId: null,
  drainsToLineId: null,
  epochId: epochStartedOn === null ? null : 'E1',
  epochStartedOn,
  epochBegins: epochStartedOn === null ? null : 'clean',
  epochBecause: epochStartedOn === null ? null : 'replaced',
  bookedOn: null,
  ruledFrom: null,
});

const event = (on: string, more: Partial<NightEvent>): NightEvent => ({
  kind: 'reading',
  confirmed: false,
  called: false,
  id: '01a2168e-0221-70a2-bf8a-65d472078d80',
  atMs: Date.parse(`${on}T15:00:00Z`),
  day: dayNumber(on) + 15 / 24,
  occlusion: null,
  standardError: null,
  bound: null,
  method: null,
  phase: null,
  plugCause: null,
  deposit: null,
  changeCause: null,
  ...more,
});

const found = { standardError: 0.08, bound: 'exact', method: 'camera', phase: 'before_cleaning' } as const;

const lines: { facts: LineFacts; events: NightEvent[] }[] = [
  {
    facts: facts('L1', '2024-06-01'),
    events: [
      // Of the pipe that lay there before.
      event('2024-03-01', { ...found, occlusion: 0.9 }),
      event('2025-01-10', { ...found, occlusion: 0.4, confirmed: true, deposit: 'gel' }),
      event('2025-01-11', { kind: 'clean' }),
      event('2025-09-01', { ...found, occlusion: 0.5, called: true }),
      event('2025-12-01', { plugCause: 'deposit' }),
      event('2026-02-01', { kind: 'regime', changeCause: 'new_pump' }),
      // Nobody wrote down how.
      event('2026-03-01', { occlusion: 0.3 }),
    ],
  },
  { facts: facts('L2', null), events: [] },
  {
    facts: facts('L3', null),
    events: [
      event('2025-05-01', { ...found, occlusion: 0.02, method: 'outlet_look' }),
      event('2025-08-01', { ...found, occlusion: 0.6, bound: 'at_least' }),
      event('2025-08-01', { ...found, occlusion: 0.05, phase: 'after_cleaning' }),
    ],
  },
];

test('lines laid out one after the other out of objects used again are those laid out each by itself', () => {
  const block = {
    day: DAY,
    facts: lines.map((line) => line.facts),
    events: packEvents(lines.map(({ events }) => events)),
  };
  const evidence = lines.map((line) => nightLine(line.facts, line.events, DAY).evidence);
  const laid = layPacked(block);
  expect(laid).toEqual(layLines(evidence, dayNumber(DAY)));
  // Reading, clean, reading, mark and plug, change of regime; reading, reading, the clean it implies, reading.
  expect([...laid.steps.first]).toEqual([0, 6, 6, 10]);
});

test('what an event says is kept: a clean epoch begins with it, and who has no word for how is no reading', () => {
  const [first] = lines;
  const line = nightLine(first!.facts, first!.events, DAY);
  expect(line.cleanFromDay).toBe(dayNumber('2024-06-01'));
  expect(line.deposits).toEqual(['gel']);
  expect(line.evidence.events.map(({ kind }) => kind)).toEqual([
    'reading',
    'clean',
    'reading',
    'plugged',
    'regime',
  ]);
  expect(line.evidence.events.at(-1)).toMatchObject({ kind: 'regime', cause: 'new_pump' });
  expect(line.evidence.events[0]).toMatchObject({ occlusion: 0.4, confirmed: true, called: false });
  expect(line.lastEvidenceAt).toBe('2026-03-01T15:00:00.000Z');
});

test('what was found on the morning a pipe was put in is of the pipe before; a look after it stays', () => {
  const at = (hour: number, more: Partial<NightEvent>, on = '2026-06-01'): NightEvent =>
    event(on, { ...more, day: dayNumber(on) + hour / 24 });
  const looks = [
    at(8, { ...found, plugCause: 'deposit' }),
    at(9, { ...found, occlusion: 0.95 }),
    at(12, { kind: 'clean' }),
    at(16, { ...found, occlusion: 0.01, phase: 'after_cleaning' }),
  ];
  const dug = (because: LineFacts['epochBecause'], events: NightEvent[]) =>
    nightLine({ ...facts('L4', '2026-06-01'), epochBecause: because }, events, DAY).evidence;
  for (const because of ['replaced', 'installed'] as const) {
    expect(dug(because, looks).events.map(({ kind }) => kind)).toEqual(['clean', 'reading']);
    expect(dug(because, looks).start).toEqual({ kind: 'clean', day: dayNumber('2026-06-01') });
    // The day after it is of the new pipe.
    expect(dug(because, [at(8, looks[0]!, '2026-06-02')]).events).toHaveLength(1);
  }
  expect(dug('first_record', looks).events).toHaveLength(4);
  // A line laid in the midst of what was found in it keeps all of it.
  expect(dug('installed', [at(8, looks[1]!, '2026-05-01'), ...looks]).events).toHaveLength(5);
});
