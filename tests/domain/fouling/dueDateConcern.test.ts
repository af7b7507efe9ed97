import { describe, expect, test } from 'vitest';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import {
  bindsCleaning,
  careTermsFor,
  type SeasonTerms,
  seasonsFor,
} from '../../../src/domain/fouling/dueDateConcern.js';

describe('care terms that hold on a day', () => {
  const terms = (from: string, to: string | null, intervalDays: number) => ({
    intervalDays,
    visitsPerYear: null,
    fromDay: dayNumber(from),
    toDay: to === null ? null : dayNumber(to),
  });
  const today = dayNumber('2026-06-01');
  const old = terms('2024-01-01', '2025-12-31', 30);
  const now = terms('2026-01-01', null, 180);
  const denser = terms('2026-03-01', null, 90);
  const next = terms('2026-09-01', null, 60);

  test('those that ended are forgotten, of those in force the one that promises most', () => {
    expect(careTermsFor([old, now, next], today)).toBe(now);
    expect(careTermsFor([old, now, denser], today)).toBe(denser);
  });
  test('before any begins, the first to begin; none at all is none', () => {
    expect(careTermsFor([next, terms('2027-01-01', null, 30)], today)).toBe(next);
    expect(careTermsFor([old], today)).toBeNull();
  });
});

test('a refusal of a dig keeps no crew from cleaning, one of everything or of jetting does', () => {
  expect(
    [null, 'jet', 'hose_flush', 'dig_and_replace', 'survey'].map((task) => bindsCleaning(task as never)),
  ).toEqual([true, true, true, false, false]);
});

describe('closed seasons of a line', () => {
  const winter: SeasonTerms = {
    tasks: ['jet', 'hose_flush', 'dig_and_replace'],
    outsideOnly: false,
    depotId: null,
    fromDay: 10,
    toDay: 20,
    reason: 'frost',
  };
  const plain = [{ fromDay: 10, toDay: 20, reason: 'frost' }];

  test('one that closes digs alone, or jetting but not the hose, moves no due date', () => {
    expect(seasonsFor('yard_drain', [winter], ['north'])).toEqual(plain);
    expect(seasonsFor('yard_drain', [{ ...winter, tasks: ['dig_and_replace'] }], ['north'])).toEqual([]);
    expect(seasonsFor('yard_drain', [{ ...winter, tasks: ['jet'] }], ['north'])).toEqual([]);
  });
  test('one for work outside leaves a floor drain open', () => {
    const outside = { ...winter, outsideOnly: true };
    expect(seasonsFor('floor_drain', [outside], ['north'])).toEqual([]);
    expect(seasonsFor('footing_drain', [outside], ['north'])).toEqual(plain);
  });
  test('one of a depot holds where no other depot could send a crew', () => {
    const north = { ...winter, depotId: 'north' };
    expect(seasonsFor('yard_drain', [north], ['north'])).toEqual(plain);
    expect(seasonsFor('yard_drain', [north], ['north', 'south'])).toEqual([]);
  });
});
