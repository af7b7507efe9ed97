import { expect, test } from 'vitest';
import { careTermsVerdict } from '../../../src/domain/work/careTermsVerdict.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';

const verdict = (line: Partial<Parameters<typeof careTermsVerdict>[0]>) =>
  careTermsVerdict(
    { termsDays: 180, intervalDays: 180, dueRule: 'care_terms', needlesslyShort: false, ...line },
    DEFAULT_SETTINGS,
  );

test('too long: the line asks sooner than the terms, by more than a date moves without news', () => {
  // 5 % of 180 days is 9: 171 is no news, 170 is.
  expect(verdict({ dueRule: 'risk', intervalDays: 171 })).toBe('fits');
  expect(verdict({ dueRule: 'risk', intervalDays: 170 })).toBe('too_long');
  // Of short terms the three days count: 5 % of 30 is 1.5.
  expect(verdict({ dueRule: 'hardening', termsDays: 30, intervalDays: 27 })).toBe('fits');
  expect(verdict({ dueRule: 'hardening', termsDays: 30, intervalDays: 26 })).toBe('too_long');
});

test('a custom of first intervals, growth or seasons says nothing against the terms', () => {
  for (const dueRule of ['first_interval', 'growth', 'max_interval', 'closed_season'] as const)
    expect(verdict({ dueRule, intervalDays: 60 })).toBe('fits');
});

test('needlessly short only where the night said so and the terms set the date', () => {
  expect(verdict({ needlesslyShort: true })).toBe('needlessly_short');
  expect(verdict({ needlesslyShort: true, dueRule: 'growth' })).toBe('fits');
  expect(verdict({})).toBe('fits');
});

test('a line without a date is not judged', () => {
  expect(verdict({ intervalDays: null, dueRule: 'refused' })).toBe('not_told');
});
