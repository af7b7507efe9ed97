import { expect, test } from 'vitest';
import { careTermsVerdict } from '../../../src/domain/work/careTermsVerdict.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';

const verdict = (line: Partial<Parameters<typeof careTermsVerdict>[0]>) =>
  careTermsVerdict(
    {
      termsDays: 180,
      intervalDays: 180,
      dueRule: 'care_terms',
      needlesslyShort: false,
      withoutTermsDays: null,
      otherwise: null,
      ...line,
    },
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

test('needlessly short only where the night said so, the terms set the date, and without them it comes later', () => {
  // 5 % of 180 days is 9: 189 is no later, 190 is. Of short terms the three days count.
  expect(verdict({ needlesslyShort: true, withoutTermsDays: 190 })).toBe('needlessly_short');
  expect(verdict({ needlesslyShort: true, withoutTermsDays: 189 })).toBe('fits');
  expect(verdict({ needlesslyShort: true, termsDays: 30, withoutTermsDays: 33 })).toBe('fits');
  expect(verdict({ needlesslyShort: true, dueRule: 'growth', withoutTermsDays: 300 })).toBe('fits');
  expect(verdict({ needlesslyShort: true })).toBe('fits');
  expect(verdict({ withoutTermsDays: 300 })).toBe('fits');
});

test('too long by an assumption alone where the line would not ask if the fact were the other way', () => {
  const dry = { dueRule: 'hardening', intervalDays: 91 } as const;
  expect(verdict({ ...dry, otherwise: { intervalDays: 180, dueRule: 'care_terms' } })).toBe(
    'too_long_assumed',
  );
  // Wet or dry, the bore itself asks for 140 days.
  expect(verdict({ ...dry, otherwise: { intervalDays: 140, dueRule: 'risk' } })).toBe('too_long');
  expect(verdict({ ...dry, otherwise: null })).toBe('too_long');
});

test('a line without a date is not judged', () => {
  expect(verdict({ intervalDays: null, dueRule: 'refused' })).toBe('not_told');
});
