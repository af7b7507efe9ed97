import fc from 'fast-check';
import { expect, test } from 'vitest';
import { businessZone } from '../../../src/domain/calendar/businessZone.js';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';

const at = (iso: string): number => Date.parse(iso);

test('an evening belongs to the day of the business, whatever day it is in UTC', () => {
  const chicago = businessZone('America/Chicago');
  // 26 November 02:00 UTC is 20:00 of the 25th in Chicago, six hours behind
  expect(chicago.dayNumberAt(at('2026-11-26T02:00:00Z'))).toBeCloseTo(dayNumber('2026-11-25') + 20 / 24, 9);
  expect(chicago.dayNumberAt(at('2026-07-01T05:00:00Z'))).toBe(dayNumber('2026-07-01'));
  expect(businessZone('Asia/Kolkata').dayNumberAt(at('2026-01-01T18:30:00Z'))).toBe(dayNumber('2026-01-02'));
});

test('on both sides of a clock change to the millisecond', () => {
  const chicago = businessZone('America/Chicago');
  // 8 March 2026 02:00 CST (08:00 UTC) becomes 03:00; 1 November 02:00 CDT (07:00 UTC) becomes 01:00
  const spring = at('2026-03-08T08:00:00Z');
  expect(chicago.dayNumberAt(spring - 1)).toBeCloseTo(dayNumber('2026-03-08') + 2 / 24, 6);
  expect(chicago.dayNumberAt(spring)).toBeCloseTo(dayNumber('2026-03-08') + 3 / 24, 6);
  const autumn = at('2026-11-01T07:00:00Z');
  expect(chicago.dayNumberAt(autumn - 1)).toBeCloseTo(dayNumber('2026-11-01') + 2 / 24, 6);
  expect(chicago.dayNumberAt(autumn)).toBeCloseTo(dayNumber('2026-11-01') + 1 / 24, 6);
});

test('its whole days are the days of the calendar, in any zone', () => {
  const zones = ['America/Chicago', 'Europe/Dublin', 'Australia/Lord_Howe', 'Pacific/Apia'].map(businessZone);
  fc.assert(
    fc.property(
      fc.integer({ min: at('1995-01-01T00:00:00Z'), max: at('2040-01-01T00:00:00Z') }),
      fc.constantFrom(...zones),
      (instant, zone) => Math.floor(zone.dayNumberAt(instant)) === dayNumber(zone.dayOf(new Date(instant))),
    ),
  );
});
