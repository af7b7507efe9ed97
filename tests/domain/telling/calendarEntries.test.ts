import { expect, test } from 'vitest';
import {
  type CalendarEntry,
  changedEntries,
  type ShownVisit,
} from '../../../src/domain/telling/calendarEntries.js';

const visit = (workOrderId: string, more: Partial<ShownVisit> = {}): ShownVisit => ({
  workOrderId,
  state: 'confirmed',
  starts: '2026-10-02T13:00:00.000Z',
  ends: '2026-10-02T14:00:00.000Z',
  summary: 'visit',
  description: '',
  location: null,
  ...more,
});
const entry = (workOrderId: string, sequence: number, more: Partial<ShownVisit> = {}): CalendarEntry => ({
  ...visit(workOrderId, more),
  sequence,
  changedAt: 'then',
  createdAt: 'then',
});
const at = { sightFrom: '2026-09-17', now: 'now' };

test('a new visit begins at 0, the same again changes nothing', () => {
  expect(changedEntries([], [visit('a')], at)).toEqual([
    { ...visit('a'), sequence: 0, changedAt: 'now', createdAt: 'now' },
  ]);
  expect(changedEntries([entry('a', 3)], [visit('a')], at)).toEqual([]);
});

test('a change raises the sequence, one that has gone is cancelled once, one that comes back is raised again', () => {
  const moved = visit('a', { starts: '2026-10-05T13:00:00.000Z', ends: '2026-10-05T14:00:00.000Z' });
  expect(changedEntries([entry('a', 3)], [moved], at)).toMatchObject([
    { sequence: 4, starts: moved.starts, createdAt: 'then', changedAt: 'now' },
  ]);
  expect(changedEntries([entry('a', 4)], [], at)).toMatchObject([{ state: 'cancelled', sequence: 5 }]);
  expect(changedEntries([entry('a', 5, { state: 'cancelled' })], [], at)).toEqual([]);
  expect(changedEntries([entry('a', 5, { state: 'cancelled' })], [visit('a')], at)).toMatchObject([
    { state: 'confirmed', sequence: 6 },
  ]);
});

test('what lies before the sight of the calendar was not called off', () => {
  const old = { starts: '2026-09-01', ends: '2026-09-02' };
  expect(changedEntries([entry('a', 0, old)], [], at)).toEqual([]);
});
