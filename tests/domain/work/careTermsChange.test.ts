import { expect, test } from 'vitest';
import { termsChanges } from '../../../src/domain/work/careTermsChange.js';

const line = (
  careTermsId: string,
  verdict: 'too_long' | 'too_long_assumed' | 'fits',
  proposedDays: number | null,
  price: number | null = 20_000,
) => ({
  careTermsId,
  verdict,
  proposedDays,
  yearNowMinor: price === null ? null : Math.round((price * 365.25) / 180),
  yearProposedMinor:
    price === null || proposedDays === null ? null : Math.round((price * 365.25) / proposedDays),
});

test('terms count once: under the firmest verdict of their lines, at the shortest interval of those', () => {
  const changes = termsChanges([
    line('A', 'too_long', 120),
    line('A', 'too_long', 60),
    line('A', 'too_long_assumed', 30),
    line('B', 'too_long_assumed', 91),
    line('C', 'too_long', 100, null),
    line('D', 'fits', null),
  ]);
  // 200.00 a visit: 365.25 / 180 visits are 405.83, / 60 are 1 217.50, / 91 are 802.75.
  expect(changes).toEqual([
    { verdict: 'too_long', terms: 2, withoutPrice: 1, yearNowMinor: 40_583, yearProposedMinor: 121_750 },
    {
      verdict: 'too_long_assumed',
      terms: 1,
      withoutPrice: 0,
      yearNowMinor: 40_583,
      yearProposedMinor: 80_275,
    },
    { verdict: 'needlessly_short', terms: 0, withoutPrice: 0, yearNowMinor: 0, yearProposedMinor: 0 },
  ]);
});
