import { expect, test } from 'vitest';
import {
  aboutText,
  clockText,
  countText,
  dayText,
  distanceText,
  durationText,
  numberText,
  quantityText,
  shareText,
  weekdayText,
} from '../../src/papers/printed.js';

const plain = (words: string): string => words.replaceAll(/[\u00A0\u202F]/g, ' ').replaceAll('\u2212', '-');

test('numbers: thousands apart, no trailing zeros, no minus zero', () => {
  expect([1234567, 1234.5, 0.1 + 0.2, -12, -0.04, 1000].map((value) => plain(numberText(value, 1)))).toEqual([
    '1 234 567',
    '1 234.5',
    '0.3',
    '-12',
    '0',
    '1 000',
  ]);
  expect(() => numberText(Number.NaN)).toThrow(RangeError);
});

test('shares are percent, counts say what they count', () => {
  expect(plain(shareText(0.454))).toBe('45 %');
  expect(
    [countText(1, 'reading'), countText(0, 'reading'), countText(2, 'entry', 'entries')].map(plain),
  ).toEqual(['1 reading', '0 readings', '2 entries']);
});

test('a four-inch bore is 102 mm, and 3 km are 1.9 miles (1609.344 m each)', () => {
  expect(plain(quantityText(101.6, 'bore', 'metric'))).toBe('102 mm');
  expect(plain(quantityText(101.6, 'bore', 'us'))).toBe('4 in');
  expect(plain(distanceText(3000, 'us'))).toBe('1.9 mi');
  expect(plain(distanceText(3000, 'metric'))).toBe('3 km');
});

test('days name their month', () => {
  expect(plain(dayText('2026-06-04'))).toBe('4 Jun 2026');
  expect(plain(weekdayText('2026-06-04'))).toBe('Thu 4 Jun 2026');
  expect(() => dayText('2026-02-30')).toThrow(RangeError);
});

test('the clock: noon, midnight, past midnight, both ways of saying it', () => {
  expect([0, 27_000, 43_200, 87_600].map((s) => plain(clockText(s, 'metric')))).toEqual([
    '0:00',
    '7:30',
    '12:00',
    '0:20 +1',
  ]);
  expect([0, 27_000, 43_200, 87_600].map((s) => plain(clockText(s, 'us')))).toEqual([
    '12:00 am',
    '7:30 am',
    '12:00 pm',
    '12:20 am +1',
  ]);
  expect([2700, 3900].map((s) => plain(durationText(s)))).toEqual(['45 min', '1 h 05']);
});

test('a client is told about how much: 31 L are 8.19 gal, about 8; half a gallon is not nothing', () => {
  // 31 / 3.785412 = 8.189; 2 / 3.785412 = 0.528
  expect(plain(aboutText(31, 'volume', 'us'))).toBe('8 gal');
  expect(plain(aboutText(2, 'volume', 'us'))).toBe('0.53 gal');
});
