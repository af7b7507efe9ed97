/** What stands where a person's words stood. */
export const ERASED = '[erased]';

/** By what a person is known on the books. */
export interface KnownPerson {
  names: readonly string[];
  phones: readonly string[];
  emails: readonly string[];
  /** Other words that mean this person, as they are written. */
  words: readonly string[];
}

/** A pattern for JavaScript, and the same looser for PostgreSQL (`~*`), which only has to find the rows. */
export interface PersonWords {
  exact: RegExp;
  loose: string;
}

/** A number with fewer digits may be anything. */
const LEAST_DIGITS = 6;
const SEPARATORS = '[ ().\\/\\u00A0\\u2011-]{0,2}';
/** Letters, digits and marks beside a word make it another one. */
const BEFORE = '(?<![\\p{L}\\p{N}\\p{M}])';
const AFTER = '(?![\\p{L}\\p{N}\\p{M}])';

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\/-]/g, '\\$&');
const inBothForms = (text: string): string[] => [...new Set([text.normalize('NFC'), text.normalize('NFD')])];

/** Names and words as written, whatever the case and the spaces; phones in any writing, with or without a leading 1. */
export function personWords({ names, phones, emails, words }: KnownPerson): PersonWords | null {
  const texts = [...names, ...emails, ...words].map((text) => text.trim()).filter((text) => text.length > 1);
  const numbers = phones.map(nationalDigits).filter((digits) => digits.length >= LEAST_DIGITS);
  if (texts.length + numbers.length === 0) return null;
  // The longest first: what is part of another would leave the rest of it.
  const parts = [...new Set(texts.flatMap(inBothForms))].sort((a, b) => b.length - a.length);
  const spaced = (text: string) => text.split(/\s+/).map(escaped);
  const exact = [
    ...parts.map((text) => `${BEFORE}${spaced(text).join('\\s+')}${AFTER}`),
    ...numbers.map((digits) => `${BEFORE}(?:\\+?1${SEPARATORS})?\\(?${[...digits].join(SEPARATORS)}${AFTER}`),
  ];
  const loose = [
    ...parts.flatMap((text) => [spaced(text).join('\\s+'), spaced(inJson(text)).join('\\s+')]),
    ...numbers.map((digits) => [...digits].join('[^0-9A-Za-z]{0,2}')),
  ];
  return { exact: new RegExp(exact.join('|'), 'giu'), loose: [...new Set(loose)].join('|') };
}

/** The number without the country's 1, where it is one of ten digits. */
function nationalDigits(phone: string): string {
  const digits = phone.replace(/\D/g, '');
  return digits.length === 11 && digits.startsWith('1') ? digits.slice(1) : digits;
}

const inJson = (text: string): string => JSON.stringify(text).slice(1, -1);

/** A text, list or object without the words; the number of places they stood in. */
export function withoutWords(value: unknown, words: PersonWords): { value: unknown; places: number } {
  if (typeof value === 'string') return textWithout(value, words);
  if (Array.isArray(value)) {
    const parts = value.map((each) => withoutWords(each, words));
    return { value: parts.map((part) => part.value), places: sum(parts) };
  }
  if (typeof value === 'object' && value !== null && !(value instanceof Date)) {
    const parts = Object.entries(value).map(
      ([name, each]) => [textWithout(name, words), withoutWords(each, words)] as const,
    );
    return {
      value: Object.fromEntries(parts.map(([name, each]) => [name.value, each.value])),
      places: sum(parts.flat()),
    };
  }
  return { value, places: 0 };
}

const sum = (parts: readonly { places: number }[]): number =>
  parts.reduce((total, { places }) => total + places, 0);

function textWithout(text: string, { exact }: PersonWords): { value: string; places: number } {
  let places = 0;
  const value = text.replace(exact, () => {
    places++;
    return ERASED;
  });
  return { value, places };
}

/** Words of a name that may stand for the person alone, as in "Mrs Reed": three letters or more. */
export const nameParts = (names: readonly string[]): string[] => [
  ...new Set(
    names.flatMap((name) => name.split(/[^\p{L}\p{M}'’-]+/u).filter((part) => [...part].length >= 3)),
  ),
];
