import { expect, test } from 'vitest';
import { inSentences, reasonTexts } from '../../../src/actions/papers/reasonTexts.js';

const names = new Map<unknown, string>([
  ['north', 'North footing'],
  ['south', 'South footing'],
]);
const of = (lineId: string, text: string) => ({ text, facts: { lineId } });

test('a reason of several lines is said once, with their names', () => {
  const hardens = 'Ochre hardens 91 days after a clean';
  expect(reasonTexts([of('north', hardens), of('south', hardens), of('north', hardens)], names)).toEqual([
    `North footing, South footing: ${hardens}`,
  ]);
});

test('where all is of one line its name is left out; a reason of the whole visit has none', () => {
  const whole = { text: 'call: orange stain' };
  expect(reasonTexts([of('north', 'past its limit'), whole], names)).toEqual([
    'past its limit',
    'call: orange stain',
  ]);
  expect(reasonTexts([of('north', 'past its limit'), of('south', 'rough bore'), whole], names)).toEqual([
    'North footing: past its limit',
    'South footing: rough bore',
    'call: orange stain',
  ]);
});

test('reasons one behind another end each as a sentence, and no sentence twice', () => {
  expect(inSentences(['16.2 m (53 ft) of the line are out of reach', 'Due: 7 Sep 2026.', 'why?'])).toBe(
    '16.2 m (53 ft) of the line are out of reach. Due: 7 Sep 2026. why?',
  );
  expect(inSentences([])).toBe('');
});

test('a line that the visit does not work on is not named', () => {
  expect(reasonTexts([of('gone', 'past its limit'), of('south', 'rough bore')], names)).toEqual([
    'past its limit',
    'rough bore',
  ]);
});

test('days are written as papers write them, also two in one sentence, and numbers like days are not', () => {
  // 4 and 30: no leading nought; what only looks like the middle of a number stays.
  expect(
    reasonTexts([{ text: 'due 2026-06-04, not 2026-11-30; lot 12026-06-041' }], names).map((text) =>
      text.replaceAll('\u00A0', ' '),
    ),
  ).toEqual(['due 4 Jun 2026, not 30 Nov 2026; lot 12026-06-041']);
  expect(reasonTexts([], names)).toEqual([]);
});
