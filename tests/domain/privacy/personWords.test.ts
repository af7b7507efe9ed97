import fc from 'fast-check';
import { expect, test } from 'vitest';
import { isOurWord } from '../../../src/domain/privacy/ourWords.js';
import {
  changeTexts,
  isTellingNumber,
  nameParts,
  type PersonWords,
  personWords,
  textWithout,
} from '../../../src/domain/privacy/personWords.js';

const NOTHING = { names: [], phones: [], emails: [], words: [] };
const needed = (words: PersonWords | null): PersonWords => {
  if (words === null) throw new Error('no words');
  return words;
};
const words = needed(
  personWords({
    names: ['Ines Calder', 'J. "Bud" Reed', 'Zoë Hölz'],
    phones: ['+1 (555) 010-4477', '44'],
    emails: ['ines@example.org'],
    words: ['Mrs Calder'],
  }),
);
const named = (name: string, text: string) =>
  textWithout(text, needed(personWords({ ...NOTHING, names: [name] }))).value;

test('a name in any case and with any blanks, alone and inside lists, objects and JSON kept as text', () => {
  expect(textWithout('Told INES   calder, then mrs Calder.', words)).toEqual({
    value: 'Told [erased], then [erased].',
    places: 2,
  });
  const changed = changeTexts(
    {
      a: ['x', { 'Ines Calder': 'J. "Bud" Reed' }],
      n: 5_550_104_477,
      no: null,
      body: '{"said":"J. \\"Bud\\" Reed\\nInes\\nCalder"}',
    },
    false,
    () => false,
    (text) => textWithout(text, words).value,
  );
  expect(changed).toEqual({
    a: ['x', { '[erased]': '[erased]' }],
    n: 5_550_104_477,
    no: null,
    body: '{"said":"[erased]\\n[erased]"}',
  });
});

test('a number in any writing, but no longer number and no word beside the name', () => {
  for (const written of [
    '555-010-4477',
    '(555) 010 4477',
    '15550104477',
    '+1 555.010.4477',
    '5550104477',
    '555\u2011010\u00A04477',
  ])
    expect(textWithout(`call ${written}!`, words).value, written).toBe('call [erased]!');
  for (const other of [
    '95550104477',
    '55501044771',
    'Ines Calderon',
    'Marines Calder',
    'Ines Calder-Jones',
    '44',
    'calder',
    'mines@example.org',
    'ines@example.org.uk',
  ])
    expect(textWithout(other, words)).toEqual({ value: other, places: 0 });
  expect(isTellingNumber('+1 555 010 4477')).toBe(true);
  expect(isTellingNumber('010 4477')).toBe(false);
});

test('as phones and forms write it: curly apostrophes, other hyphens, the last name first, letters without marks', () => {
  expect(named("Nora O'Brienstone", 'key with Nora O’Brienstone')).toBe('key with [erased]');
  expect(named('Nora O’Brienstone', "NORA O'BRIENSTONE’s key")).toBe('[erased]’s key');
  expect(named('Anne-Marie Quill', 'Anne Marie Quill, Anne‑Marie Quill, Quill, Anne-Marie')).toBe(
    '[erased], [erased], [erased]',
  );
  expect(named('Tove Lindqvistur', 'Lindqvistur, Tove / Lindqvistur Tove')).toBe('[erased] / [erased]');
  expect(named('Lindqvistur, Tove', 'asked Tove Lindqvistur')).toBe('asked [erased]');
  expect(named('Jürgen Weißkopf', 'JÜRGEN WEISSKOPF, Jurgen Weisskopf')).toBe('[erased], [erased]');
  expect(named('Zoe Holz', 'Zoë Hölz'.normalize('NFD'))).toBe('[erased]');
  expect(named('Søren Łąka', 'Soren Laka')).toBe('[erased]');
  expect(named('Юлия Ёлкина', 'ЮЛИЯ ЁЛКИНА')).toBe('[erased]');
});

test('a name of one word only as a name is written, and not as part of another', () => {
  expect(named('Hill', 'Hill and HILL up the hill, Hillside, Hill-Reed, access_Hill')).toBe(
    '[erased] and [erased] up the hill, Hillside, Hill-Reed, access_Hill',
  );
  expect(named('nick', 'Nick, in the nick of time')).toBe('[erased], in the nick of time');
  expect(named('王小明', '请问王小明在吗')).toBe('请问[erased]在吗');
});

test('any name is found as it is written, whatever signs it has, and the database is asked for no less', () => {
  const sign = fc.constantFrom(..."aZéßøŁжЯ王-'’.*+?^$", ...'{}()|[]\\/"&,;:#@_~ \u00A0');
  const name = fc
    .array(sign, { minLength: 2, maxLength: 12 })
    .map((signs) => `Q${signs.join('')}q`)
    .filter((text) => !/[\s,-].*,|,.*[\s-]$/.test(text));
  fc.assert(
    fc.property(name, (text) => {
      const each = needed(personWords({ ...NOTHING, names: [text], emails: [`${text.trim()}@x.example`] }));
      expect(textWithout(`told (${text})`, each).places).toBeGreaterThan(0);
      expect(new RegExp(each.loose, 'is').test(text)).toBe(true);
    }),
    { seed: 7, numRuns: 400 },
  );
});

test('what the database is asked finds every row that is written over', () => {
  const loose = new RegExp(words.loose, 'is');
  for (const text of [
    'ines\n calder',
    'Calder, Ines',
    'Zoë Hölz'.normalize('NFD'),
    'zoe holz',
    '(555) 010-4477',
    'INES@EXAMPLE.ORG',
    JSON.stringify('J. "Bud" Reed'),
    JSON.stringify('Ines\nCalder'),
  ])
    expect(loose.test(text), text).toBe(true);
});

test('nobody known by anything has no words; a word of the records is none of a person', () => {
  expect(personWords({ ...NOTHING, names: [' '], phones: ['12'] })).toBeNull();
  expect(isOurWord('Jet')).toBe(true);
  expect(isOurWord('Floor Drain')).toBe(true);
  expect(isOurWord('Ines')).toBe(false);
  expect(isOurWord('Ines Jet')).toBe(false);
  expect(nameParts(["Ines O'Hara-Li", 'A. Reed'])).toEqual(['Ines', "O'Hara-Li", 'Reed']);
});
