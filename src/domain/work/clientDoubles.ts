/** Role of a contact that keeps a number or address of a double: found by it, never mailed. */
export const EARLIER_RECORD = 'earlier record';

/** A client as far as doubles are told by it. */
export interface KnownClient {
  id: string;
  name: string;
  phone: string | null;
  email: string | null;
  /** Addresses of its houses. */
  addresses: readonly string[];
}

export interface Likeness {
  code: 'same_phone' | 'same_email' | 'same_name' | 'like_name' | 'same_house';
  text: string;
}

export interface LikelyDouble {
  ids: readonly [string, string];
  /** 0 to 1. */
  score: number;
  because: Likeness[];
}

/** What each likeness counts; one alone is not enough, neighbours share phones and names. Common practice, no source. */
const WORTH: Record<Likeness['code'], number> = {
  same_phone: 0.5,
  same_email: 0.5,
  same_name: 0.5,
  like_name: 0.3,
  same_house: 0.3,
};
const LIKELY_FROM = 0.6;

/** The last ten digits: the country's own number, however it is written. */
export const phoneDigits = (phone: string): string => phone.replace(/\D/g, '').slice(-10);

const FULL_DIGITS = 10;
const LOCAL_DIGITS = 7;

/**
 * The end of a number, by which it is looked for: books write one with and without its country's code or the zero in
 * front. So long that few others end alike (common practice, no source).
 */
export function phoneEnd(phone: string): string {
  const all = phone.replace(/\D/g, '');
  if (all.length >= FULL_DIGITS) return all.slice(1 - FULL_DIGITS);
  if (/^\s*(\+|00)/.test(phone)) return all.slice(-LOCAL_DIGITS);
  return all.length >= LOCAL_DIGITS ? all.replace(/^0/, '') : all;
}

/** Letters and digits of a name, words in the order of the alphabet: "Reed, A." is "A Reed". */
function nameWords(name: string): string[] {
  return name
    .normalize('NFD')
    .replace(/\p{M}/gu, '')
    .toLowerCase()
    .split(/[^\p{L}\p{N}]+/u)
    .filter((word) => word !== '')
    .sort();
}

/** Why two clients may be one; null where too little speaks for it. */
export function likelyDouble(a: KnownClient, b: KnownClient): LikelyDouble | null {
  const because: Likeness[] = [];
  const [phoneA, phoneB] = [phoneDigits(a.phone ?? ''), phoneDigits(b.phone ?? '')];
  if (phoneA.length >= 7 && phoneA === phoneB)
    because.push({ code: 'same_phone', text: `the same phone number ${a.phone}` });
  const [mailA, mailB] = [a.email?.trim().toLowerCase(), b.email?.trim().toLowerCase()];
  if (mailA && mailA === mailB) because.push({ code: 'same_email', text: `the same address ${a.email}` });
  const [wordsA, wordsB] = [nameWords(a.name), nameWords(b.name)];
  if (wordsA.join(' ') === wordsB.join(' ')) because.push({ code: 'same_name', text: 'the same name' });
  else if (isLike(wordsA, wordsB)) because.push({ code: 'like_name', text: `${a.name} is like ${b.name}` });
  const houses = new Set(a.addresses.map((address) => nameWords(address).join(' ')));
  if (b.addresses.some((address) => houses.has(nameWords(address).join(' '))))
    because.push({ code: 'same_house', text: 'a house of the same address' });
  const score = 1 - because.reduce((left, { code }) => left * (1 - WORTH[code]), 1);
  if (score < LIKELY_FROM) return null;
  return { ids: [a.id, b.id], score: Math.round(score * 100) / 100, because };
}

/** All words of the shorter name are in the longer one, initials counting for words. */
function isLike(a: readonly string[], b: readonly string[]): boolean {
  const [few, many] = a.length <= b.length ? [a, b] : [b, a];
  if (few.length === 0 || !few.some((word) => word.length > 2 && many.includes(word))) return false;
  return few.every((word) =>
    many.some((other) => other === word || (word.length === 1 && other.startsWith(word))),
  );
}
