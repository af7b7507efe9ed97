import { expect, test } from 'vitest';
import { isOurWord } from '../../../src/domain/privacy/ourWords.js';
import { nameParts, personWords, withoutWords } from '../../../src/domain/privacy/personWords.js';

const words = personWords({
  names: ['Ines Calder', 'J. "Bud" Reed', 'Zoë Hölz'],
  phones: ['+1 (555) 010-4477', '44'],
  emails: ['ines@example.org'],
  words: ['Mrs Calder'],
});
const without = (value: unknown) => {
  if (words === null) throw new Error('no words');
  return withoutWords(value, words);
};

test('a name in any case and with any spaces, alone and inside lists and objects, even as a name of a member', () => {
  expect(without('Told INES   calder, then mrs Calder.')).toEqual({
    value: 'Told [erased], then [erased].',
    places: 2,
  });
  expect(without({ a: ['x', { 'Ines Calder': 'J. "Bud" Reed' }], n: 5_550_104_477, no: null })).toEqual({
    value: { a: ['x', { '[erased]': '[erased]' }], n: 5_550_104_477, no: null },
    places: 2,
  });
  expect(without('Zoë Hölz'.normalize('NFD')).value).toBe('[erased]');
});

test('a number in any writing, but no longer number and no word beside the name', () => {
  for (const written of ['555-010-4477', '(555) 010 4477', '15550104477', '+1 555.010.4477', '5550104477'])
    expect(without(`call ${written}!`).value, written).toBe('call [erased]!');
  for (const other of ['95550104477', '55501044771', 'Ines Calderon', 'Marines Calder', '44', 'calder'])
    expect(without(other)).toEqual({ value: other, places: 0 });
});

test('what the database is asked finds every row that is written over', () => {
  const loose = new RegExp(words?.loose ?? '', 'i');
  for (const text of ['ines\n calder', '(555) 010-4477', 'INES@EXAMPLE.ORG', JSON.stringify('J. "Bud" Reed')])
    expect(loose.test(text), text).toBe(true);
});

test('nobody known by anything has no words; a word of the records is none of a person', () => {
  expect(personWords({ names: [' '], phones: ['12'], emails: [], words: [] })).toBeNull();
  expect(isOurWord('Jet')).toBe(true);
  expect(isOurWord('Ines')).toBe(false);
  expect(nameParts(["Ines O'Hara-Li", 'A. Reed'])).toEqual(['Ines', "O'Hara-Li", 'Reed']);
});
