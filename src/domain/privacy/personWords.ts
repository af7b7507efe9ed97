import { foldedText } from './foldedText.js';

/** What stands where a person's words stood. */
export const ERASED = '[erased]';

/** By what a person is known on the books. */
export interface KnownPerson {
  names: readonly string[];
  phones: readonly string[];
  emails: readonly string[];
  /** Other words that mean this person, as they are written. */
  words: readonly string[];
  /** Single words that are found in any case. */
  parts?: readonly string[];
}

/** From and up to which character of a text. */
export type Place = readonly [from: number, to: number];

export interface PersonWords {
  /** Where the words stand in a text, in order, none over another. */
  placesIn: (text: string) => Place[];
  /** A pattern for PostgreSQL (`~*`), looser: it only has to find the rows. */
  loose: string;
}

/** A number with fewer digits may be anything. */
const LEAST_DIGITS = 6;
/** With so many a number is one telephone's and nothing else's. */
const TELLING_DIGITS = 9;
const SEPARATORS = '[ ().\\/-]{0,2}';
/** Letters, digits and marks beside a word make it another one, and so does the rest of a word with a hyphen. */
const BEFORE = "(?<![\\p{L}\\p{N}\\p{M}_]|[\\p{L}\\p{N}]['-])";
const AFTER = '(?![\\p{L}\\p{N}\\p{M}_]|-\\p{L})';
const BEFORE_MAIL = `${BEFORE}(?<![.%+-])`;
const AFTER_MAIL = `${AFTER}(?!\\.\\p{L})`;
const NOT_IN_NUMBER = { before: '(?<![\\p{L}\\p{N}])', after: '(?![\\p{L}\\p{N}])' };
/** Written without blanks between words. */
const UNSPACED = /^[\p{Script=Han}\p{Script=Hiragana}\p{Script=Katakana}\p{Script=Hangul}\p{Script=Thai}]+$/u;
/** Between two words of a name, also where the last comes first. */
const GAP = '(?: *, *|[ -]+)';
/** Names of more words are looked for in their own order only. */
const MOST_TURNED = 6;

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\/]/g, '\\$&');

/** Whether a name says who is meant: "Hill" may be a hill, "Rowan Hill" is not. */
export const isSeveralWords = (name: string): boolean => wordsOf(name).length > 1;
/** Whether a number is long enough to be one telephone's alone. */
export const isTellingNumber = (phone: string): boolean => nationalDigits(phone).length >= TELLING_DIGITS;

/**
 * Names, whatever the case, the marks on their letters, the blanks and hyphens, the first name first or last; a name
 * or word of one word only as a name is written (Hill, HILL); phones in any writing, with or without a leading 1.
 */
export function personWords({ names, phones, emails, words, parts = [] }: KnownPerson): PersonWords | null {
  const long = (text: string) => [...text.trim()].length > 1;
  const named = [...names, ...words].filter(long);
  const several = [...named.filter(isSeveralWords), ...parts.filter(long)];
  const single = named.filter((text) => !isSeveralWords(text));
  const mails = emails.map((text) => text.trim()).filter(long);
  const numbers = phones.map(nationalDigits).filter((digits) => digits.length >= LEAST_DIGITS);
  if (several.length + single.length + mails.length + numbers.length === 0) return null;
  const anyCase = [
    ...namesIn(several.flatMap(orders).map((order) => order.map(lowerCase))),
    within(
      BEFORE_MAIL,
      mails.map((mail) => escaped(lowerCase(foldedText(mail).text))),
      AFTER_MAIL,
    ),
    within(
      NOT_IN_NUMBER.before,
      numbers.map((digits) => `(?:\\+?1${SEPARATORS})?\\(?${[...digits].join(SEPARATORS)}`),
      NOT_IN_NUMBER.after,
    ),
  ];
  const asNamed = namesIn(single.flatMap(asNames).map((name) => [name]));
  return {
    placesIn: (text) => placesIn(text, anyCase, asNamed),
    loose: [
      ...new Set([
        ...[...several, ...single].flatMap(orders).map((order) => order.map(looseWord).join('.{1,12}')),
        ...mails.map(looseWord),
        ...numbers.map((digits) => [...digits].join('[^0-9A-Za-z]{0,2}')),
      ]),
    ].join('|'),
  };
}

/** Longest first: what is part of another would leave the rest of it. */
const within = (before: string, parts: readonly string[], after: string): RegExp | null =>
  parts.length === 0
    ? null
    : new RegExp(
        `${before}(?:${[...new Set(parts)].sort((a, b) => b.length - a.length).join('|')})${after}`,
        'gu',
      );

/** Sign by sign, so that the text keeps its places. */
const lowerCase = (text: string): string =>
  Array.from(text, (sign) => {
    const lower = sign.toLowerCase();
    return lower.length === sign.length ? lower : sign;
  }).join('');

/** Words of a name in the order in which it is spoken: of "Calder, Ines" the part after the comma first. */
function wordsOf(name: string): string[] {
  const [last = '', ...first] = foldedText(name).text.split(',');
  return [...first, last].flatMap((part) => part.split(' ')).filter((word) => word !== '');
}

/** A name's words as spoken, and turned: last name first. */
function orders(name: string): string[][] {
  const words = wordsOf(name);
  if (words.length > MOST_TURNED) return [words];
  return words.map((_, i) => [...words.slice(i), ...words.slice(0, i)]);
}

/** How a name of one word is written; small letters alone would be any word. */
function asNames(name: string): string[] {
  const { text } = foldedText(name.trim());
  const capital = text.replace(/^\P{L}*\p{L}/u, (start) => start.toUpperCase());
  return [...new Set([capital, text.toUpperCase(), ...(text === text.toLowerCase() ? [] : [text])])];
}

/** Names by their words; those in a writing without blanks may stand amid other signs. */
function namesIn(names: readonly (readonly string[])[]): (RegExp | null)[] {
  const isUnspaced = (words: readonly string[]) => UNSPACED.test(words.join(''));
  const text = (words: readonly string[]) =>
    words.map((word) => word.split('-').map(escaped).join('[ -]{0,3}')).join(GAP);
  return [
    within(BEFORE, names.filter((words) => !isUnspaced(words)).map(text), AFTER),
    within('', names.filter(isUnspaced).map(text), ''),
  ];
}

/** Not ASCII: a letter with marks, another apostrophe. */
const FOREIGN = '[^\\u0001-\\u007f]';

/** A word as PostgreSQL looks for it: in every writing that folds to it, and in JSON. */
function looseWord(word: string): string {
  const { text } = foldedText(word);
  return text.replace(/ss|ae|oe|th|./giu, (sign) => {
    if (sign.length > 1 && /^[a-z]+$/i.test(sign))
      return `(${sign[0]}|${FOREIGN})${FOREIGN}*(${sign[1]}|${FOREIGN})?${FOREIGN}*`;
    if (/[a-z]/i.test(sign)) return `(${sign}|${FOREIGN})${FOREIGN}*`;
    if (/[0-9@_]/.test(sign)) return sign;
    if (sign === '-') return '.{0,12}';
    return sign.charCodeAt(0) < 0x80 ? '.{1,6}' : `${FOREIGN}+`;
  });
}

/** The number without the country's 1, where it is one of ten digits. */
function nationalDigits(phone: string): string {
  const digits = phone.replace(/\D/g, '');
  return digits.length === 11 && digits.startsWith('1') ? digits.slice(1) : digits;
}

function placesIn(
  text: string,
  anyCase: readonly (RegExp | null)[],
  asNamed: readonly (RegExp | null)[],
): Place[] {
  const folded = foldedText(text);
  const matches = (folds: string, patterns: readonly (RegExp | null)[]) =>
    patterns.flatMap((each) => (each === null ? [] : [...folds.matchAll(each)]));
  const found = [...matches(lowerCase(folded.text), anyCase), ...matches(folded.text, asNamed)]
    .map(({ index, 0: words }): Place => [folded.at[index] ?? 0, folded.at[index + words.length] ?? 0])
    .sort(([a, aEnd], [b, bEnd]) => a - b || bEnd - aEnd);
  let end = -1;
  return found.filter(([from, to]) => {
    const isFree = from >= end;
    if (isFree) end = to;
    return isFree;
  });
}

/** A text without the words; the number of places they stood in. */
export function textWithout(
  text: string,
  { placesIn: find }: PersonWords,
): { value: string; places: number } {
  const places = find(text);
  let value = '';
  let at = 0;
  for (const [from, to] of places) {
    value += text.slice(at, from) + ERASED;
    at = to;
  }
  return { value: value + text.slice(at), places: places.length };
}

/** What becomes of one text. */
export type TextChange = (text: string, close: boolean) => string;

/**
 * Every text of a value, with names of members, in lists, objects and JSON that is kept as text.
 *
 * @param close   Whether the value speaks of the person's houses.
 * @param isClose Whether an object within it does, by the ids it holds.
 */
export function changeTexts(
  value: unknown,
  close: boolean,
  isClose: (object: Record<string, unknown>) => boolean,
  change: TextChange,
): unknown {
  if (typeof value === 'string') {
    const parsed = jsonIn(value);
    if (parsed === undefined) return change(value, close);
    const changed = changeTexts(parsed, close, isClose, change);
    return JSON.stringify(changed) === JSON.stringify(parsed) ? value : JSON.stringify(changed);
  }
  if (Array.isArray(value)) return value.map((each) => changeTexts(each, close, isClose, change));
  if (typeof value !== 'object' || value === null || value instanceof Date) return value;
  const here = close || isClose(value as Record<string, unknown>);
  return Object.fromEntries(
    Object.entries(value).map(([name, each]) => [
      change(name, here),
      changeTexts(each, here, isClose, change),
    ]),
  );
}

function jsonIn(text: string): unknown {
  if (!/^\s*[[{]/.test(text)) return undefined;
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return undefined;
  }
}

/** Words of a name that may stand for the person alone, as in "Mrs Reed": three letters or more. */
export const nameParts = (names: readonly string[]): string[] => [
  ...new Set(
    names.flatMap((name) => name.split(/[^\p{L}\p{M}'’-]+/u).filter((part) => [...part].length >= 3)),
  ),
];
