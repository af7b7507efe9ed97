import { expect, test } from 'vitest';
import { brokenWords, fitText, textWidth, wrapText } from '../../src/papers/textWidth.js';

test('wide letters take more room than narrow ones, signs on top of a letter take none', () => {
  expect(textWidth('mmmm', 10)).toBeGreaterThan(textWidth('llll', 10));
  expect(textWidth('家家', 10)).toBeCloseTo(22, 6); // two full-width letters of 1.1 em
  expect(textWidth('e\u0301', 10)).toBe(textWidth('e', 10));
});

test('words that fit stay as they are; others end in … and fit', () => {
  expect(fitText('Heron Lane', 200, 12)).toBe('Heron Lane');
  const cut = fitText('a very long name of a lane by the water', 100, 12);
  expect(cut.endsWith('…')).toBe(true);
  expect(textWidth(cut, 12)).toBeLessThanOrEqual(100);
});

test('a letter made of several signs is never cut in two', () => {
  expect(fitText('👩‍🔧👩‍🔧👩‍🔧👩‍🔧', 40, 12)).toMatch(/^(👩‍🔧)*…$/u);
});

test('lines break at spaces, and inside a word only when it alone is wider', () => {
  const lines = wrapText('one two three Donaudampfschifffahrtsgesellschaft end', 90, 12);
  for (const line of lines) expect(textWidth(line, 12)).toBeLessThanOrEqual(90);
  expect(lines.join('').replaceAll(' ', '')).toBe('onetwothreeDonaudampfschifffahrtsgesellschaftend');
  expect(wrapText('', 90, 12)).toEqual([]);
});

test('of words wider than a line every letter can end one, a letter of several characters as a whole', () => {
  // 10 px: 5.8 a small letter.
  expect(brokenWords('to the gate', 30, 10)).toEqual([{ text: 'to the gate', anywhere: false }]);
  expect(brokenWords('to thegate now', 30, 10)).toEqual([
    { text: 'to ', anywhere: false },
    { text: 'thegate', anywhere: true },
    { text: ' now', anywhere: false },
  ]);
  // A family of one sign; n with a sign that Unicode has no single letter for, and u with one it has.
  expect(brokenWords('aaaaaa👩‍🔧bn\u0308u\u0308', 30, 10)).toEqual([
    { text: 'aaaaaa', anywhere: true },
    { text: '👩‍🔧', anywhere: false },
    { text: 'b', anywhere: true },
    { text: 'n\u0308', anywhere: false },
    { text: 'ü', anywhere: true },
  ]);
});
