import { expect, test } from 'vitest';
import { harmlessCell, textOfCell } from '../../src/files/csvFormula.js';

test('a text that a spreadsheet would reckon gets an apostrophe, and loses it on the way back', () => {
  for (const text of [
    '=1+1',
    '+1',
    '-1',
    '@a',
    '\t=1',
    '\r=1',
    '\n=HYPERLINK("x")',
    '＝1+1',
    '＋1',
    '－1',
    '＠a',
  ]) {
    expect(harmlessCell(text)).toBe(`'${text}`);
    expect(textOfCell(harmlessCell(text))).toBe(text);
  }
  for (const text of ['Reed', '1-1', ' =1']) expect(harmlessCell(text)).toBe(text);
});
