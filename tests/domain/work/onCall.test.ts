import { expect, test } from 'vitest';
import { joined, uncovered } from '../../../src/domain/calendar/spans.js';
import { onCallGaps, restedAt, shiftAfterNight, whoTakes } from '../../../src/domain/work/onCall.js';

const HOUR = 3_600_000;
const span = (from: number, to: number) => ({ from: from * HOUR, to: to * HOUR });
const turn = (memberId: string, from: number, to: number, place = 1) => ({
  memberId,
  turn: place,
  ...span(from, to),
});
const shift = (crewId: string, from: number, to: number) => ({ crewId, ...span(from, to) });
const ask = { respondBy: 24 * HOUR, urgency: 'at_once', out: new Set<string>() } as const;

test('spans that touch are one, and what they leave open is told', () => {
  expect(joined([span(5, 7), span(0, 3), span(3, 4), span(6, 9), span(2, 2)])).toEqual([
    span(0, 4),
    span(5, 9),
  ]);
  expect(uncovered(span(0, 10), [span(-2, 1), span(3, 5), span(9, 12)])).toEqual([span(1, 3), span(5, 9)]);
  expect(uncovered(span(0, 2), [span(0, 2)])).toEqual([]);
});

test('gaps are outside shifts and turns', () => {
  expect(onCallGaps(span(0, 24), [turn('a', 16, 20)], [shift('x', 8, 16)])).toEqual([
    span(0, 8),
    span(20, 24),
  ]);
});

test('who takes a call', () => {
  const shifts = [shift('x', 8, 16), shift('y', 9, 16)];
  const turns = [turn('b', 16, 32, 2), turn('a', 16, 32, 1)];
  const at = (now: number, more: object = {}) =>
    whoTakes({ ...ask, now: now * HOUR, shifts, turns, ...more });
  expect(at(10)).toEqual({ kind: 'crew_on_shift', crewIds: ['x', 'y'] });
  // Half an hour before the end a crew takes nothing new.
  expect(at(15.5)).toMatchObject({ kind: 'nobody' });
  expect(at(6, { respondBy: 9 * HOUR })).toEqual({ kind: 'next_shift', crewIds: ['x'], from: 8 * HOUR });
  expect(at(6, { respondBy: 8.5 * HOUR, turns: [turn('a', 0, 8)] })).toEqual({
    kind: 'on_call',
    memberIds: ['a'],
  });
  expect(at(17)).toEqual({ kind: 'on_call', memberIds: ['a', 'b'] });
  expect(at(17, { out: new Set(['a']) })).toEqual({ kind: 'on_call', memberIds: ['b'] });
  expect(at(2, { respondBy: 4 * HOUR })).toMatchObject({ kind: 'nobody', next: { from: 16 * HOUR } });
  expect(at(10, { urgency: 'in_days' })).toEqual({ kind: 'routes' });
});

test('rest after a call-out: ten hours from when they came home, the latest counts', () => {
  const out = (calledAt: number, backAt: number | null, memberId = 'a') => ({
    memberId,
    calledAt: calledAt * HOUR,
    backAt: backAt === null ? null : backAt * HOUR,
  });
  const at = (outs: ReturnType<typeof out>[], now = 0) => {
    const rested = restedAt(outs, 'a', 31.5 * HOUR, now * HOUR, 10);
    return rested === null ? null : rested / HOUR;
  };
  expect(at([out(25, 26)])).toBe(36);
  expect(at([out(20, 21.5)])).toBeNull();
  expect(at([out(25, 26), out(27, 29)])).toBe(39);
  expect(at([out(25, 26, 'b')])).toBeNull();
  // Still out at three in the morning.
  expect(at([out(25, null)], 27)).toBe(37);
  // Called out in the shift itself: no night.
  expect(at([out(33, 34)])).toBeNull();
});

test('a night takes its rest from the next shift', () => {
  // A shift from 7 to 16 o'clock, ten hours of rest.
  const shift = { from: 31 * HOUR, to: 40 * HOUR };
  expect(shiftAfterNight(20 * HOUR, shift, 10)).toEqual({ restMs: 11 * HOUR, startsAt: 31 * HOUR });
  expect(shiftAfterNight(25 * HOUR, shift, 10)).toEqual({ restMs: 6 * HOUR, startsAt: 35 * HOUR });
  // Back at 6: rested at 16, when the shift is over.
  expect(shiftAfterNight(30 * HOUR, shift, 10)).toEqual({ restMs: HOUR, startsAt: null });
  expect(shiftAfterNight(32 * HOUR, shift, 6)).toEqual({ restMs: -HOUR, startsAt: 38 * HOUR });
});
