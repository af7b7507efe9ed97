import { expect, test } from 'vitest';
import type { EvidenceEvent } from '../../../src/domain/fouling/evidence.js';
import { lineVisits } from '../../../src/domain/fouling/lineVisits.js';

const reading = (
  day: number,
  occlusion: number,
  phase: 'before_cleaning' | 'after_cleaning',
): EvidenceEvent => ({
  kind: 'reading',
  day,
  occlusion,
  sd: 0.08,
  bound: 'exact',
  method: 'camera',
  phase,
  id: `${day}`,
});

test('found, cleaned and left of one day are one visit; a known change of regime is marked on its day', () => {
  expect(
    lineVisits([
      reading(100.3, 0.4, 'before_cleaning'),
      { kind: 'clean', day: 100.4 },
      reading(100.5, 0.1, 'after_cleaning'),
      { kind: 'regime', day: 150, cause: 'excavation' },
      { kind: 'clean', day: 200 },
    ]),
  ).toMatchObject([
    {
      day: 100,
      found: { method: 'camera', occlusion: 0.4, standardError: 0.08, doubted: false, sureBy: null },
      plugged: false,
      cleaned: true,
      residue: 0.1,
    },
    { day: 150, found: null, plugged: false, cleaned: false, changed: 'excavation' },
    { day: 200, found: null, plugged: false, cleaned: true, residue: null },
  ]);
});

test('a line stopped by ice or roots is a visit, but not plugged by what it carries', () => {
  const plugged = (cause: 'deposit' | 'unknown' | 'ice' | 'roots') =>
    lineVisits([{ kind: 'plugged', day: 9, cause, id: 'p' }])[0]?.plugged;
  expect([plugged('deposit'), plugged('unknown'), plugged('ice'), plugged('roots')]).toEqual([
    true,
    true,
    false,
    false,
  ]);
});

test('what stopped it instead is named, and a plug in doubt by its find', () => {
  const [visit] = lineVisits([{ kind: 'plugged', day: 9, cause: 'roots', id: 'r' }]);
  expect(visit).toMatchObject({ stoppedBy: 'roots', doubtedPlug: null });
  const doubted = [{ id: 'p', fits: 0.1 }];
  expect(lineVisits([{ kind: 'plugged', day: 9, cause: 'deposit', id: 'p' }], doubted)).toMatchObject([
    { stoppedBy: null, doubtedPlug: 'p', plugged: true },
  ]);
});

test('a look at what is left belongs to its clean, be it past midnight; without a clean on record it implies one', () => {
  const left = reading(101.01, 0.1, 'after_cleaning');
  const night = lineVisits([{ kind: 'clean', day: 100.98 }, left]);
  expect(night.map(({ day, cleaned, residue }) => [day, cleaned, residue])).toEqual([[100, true, 0.1]]);
  expect(lineVisits([left]).map(({ day, cleaned, residue }) => [day, cleaned, residue])).toEqual([
    [101, true, 0.1],
  ]);
});

test('a doubted reading is marked; a sound one of the same day takes its place', () => {
  const wrong = reading(100.2, 0.95, 'before_cleaning');
  const doubted = [{ id: '100.2', fits: 0.2 }];
  expect(lineVisits([wrong], doubted)[0]?.found).toMatchObject({ occlusion: 0.95, doubted: true });
  const both = lineVisits([wrong, reading(100.3, 0.2, 'before_cleaning')], doubted);
  expect(both[0]?.found).toMatchObject({ occlusion: 0.2, doubted: false });
});

test('no rule goes by a reading taken for a slip: 99 % left after a clean asks for no recheck while nobody confirms it', () => {
  const left = reading(100.5, 0.99, 'after_cleaning');
  const events: EvidenceEvent[] = [{ kind: 'clean', day: 100.4 }, left];
  expect(lineVisits(events)[0]?.residue).toBe(0.99);
  expect(lineVisits(events, [{ id: '100.5', fits: 0.1 }])).toMatchObject([
    {
      day: 100,
      found: null,
      cleaned: true,
      residue: null,
      doubted: [{ id: '100.5', occlusion: 0.99, high: true, left: true }],
    },
  ]);
});

test('of one day a confirmed reading counts before a sound one, and of two in doubt the worse', () => {
  const high = { ...reading(100.1, 0.8, 'before_cleaning'), confirmed: true };
  const later = reading(100.2, 0.2, 'before_cleaning');
  expect(lineVisits([high, later])[0]?.found).toMatchObject({ occlusion: 0.8, sureBy: 'person' });
  const doubts = ['100.1', '100.2'].map((id) => ({ id, fits: 0.4 }));
  const visit = lineVisits([reading(100.1, 0.8, 'before_cleaning'), later], doubts)[0];
  expect(visit?.found).toMatchObject({ occlusion: 0.8, high: true });
  expect(visit?.doubted.map(({ high }) => high)).toEqual([true, false]);
});
