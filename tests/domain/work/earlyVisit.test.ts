import { expect, test } from 'vitest';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import { earlyVisit, type TermsOfVisit } from '../../../src/domain/work/earlyVisit.js';
import { settingsWith } from '../../../src/domain/work/settings.js';

const settings = settingsWith({});
const day = dayNumber('2026-10-01');
const terms = (change: Partial<TermsOfVisit> = {}): TermsOfVisit => ({
  termsDay: day + 60,
  priceMinor: 20_000,
  earlyVisitsPerYear: 1,
  earlyPriceCapMinor: 25_000,
  earlyTaken: 0,
  alwaysWelcome: false,
  ...change,
});
const asks = (change: Partial<TermsOfVisit>) => earlyVisit(day, terms(change), settings)?.ask ?? null;

test('a visit is early when the terms would bring it more than a fortnight later', () => {
  expect(earlyVisit(day, terms({ termsDay: day + 14 }), settings)).toBeNull();
  expect(earlyVisit(day, terms({ termsDay: day + 15 }), settings)?.reason.facts['days']).toBe(15);
  expect(earlyVisit(day, terms({ termsDay: null }), settings)).toBeNull();
});

test('standing consent covers so many a year, each up to its cap', () => {
  expect(asks({})).toBeNull();
  expect(asks({ earlyTaken: 1 })).toBe('1 of 1 early visits a year are taken');
  expect(asks({ earlyVisitsPerYear: 0 })).toContain('no early visit without a question');
  expect(asks({ earlyPriceCapMinor: 19_999 })).toContain('above the cap');
  expect(asks({ earlyPriceCapMinor: 20_000 })).toBeNull();
  expect(asks({ earlyPriceCapMinor: null, priceMinor: 9_000_000 })).toBeNull();
  expect(asks({ earlyTaken: 9, alwaysWelcome: true })).toBeNull();
  // without a price it costs what a visit costs the business, 300.00
  expect(asks({ priceMinor: null, earlyPriceCapMinor: 29_999 })).toContain('above the cap');
});

test('the owner may allow more at every site than the terms do', () => {
  const generous = settingsWith({ consent: { earlyVisitsPerYear: 2 } });
  expect(earlyVisit(day, terms({ earlyTaken: 1 }), generous)?.ask).toBeNull();
  expect(earlyVisit(day, terms({ earlyTaken: 2 }), generous)?.ask).toBe(
    '2 of 2 early visits a year are taken',
  );
});
