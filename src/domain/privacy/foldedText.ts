/** A text with what people write one way or another written one way, and where each of its characters came from. */
export interface FoldedText {
  text: string;
  /** Of each character, the place in the text as it was; one more for its end. */
  at: number[];
}

const WRITTEN_AS: Readonly<Record<string, string>> = {
  ß: 'ss',
  ẞ: 'SS',
  æ: 'ae',
  Æ: 'AE',
  œ: 'oe',
  Œ: 'OE',
  ø: 'o',
  Ø: 'O',
  ł: 'l',
  Ł: 'L',
  đ: 'd',
  Đ: 'D',
  ð: 'd',
  Ð: 'D',
  þ: 'th',
  Þ: 'TH',
  ı: 'i',
  ς: 'σ',
};
const APOSTROPHE = /[’‘ʼʹ′‛`´＇]/u;
const HYPHEN = /[\u2010-\u2015\u2212\uFE58\uFE63\uFF0D]/u;
/** Marks on letters, soft hyphens, and signs without width. */
const UNSEEN = /[\u0300-\u036F\u00AD\u200B-\u200D\u2060\uFEFF]/gu;

/** Marks off letters, one apostrophe, one hyphen, one blank, ß as ss; upper and lower case stay. */
export function foldedText(text: string): FoldedText {
  let out = '';
  const at: number[] = [];
  let place = 0;
  for (const sign of text) {
    for (const each of foldedSign(sign)) {
      out += each;
      for (let i = 0; i < each.length; i++) at.push(place);
    }
    place += sign.length;
  }
  at.push(text.length);
  return { text: out, at };
}

function foldedSign(sign: string): string {
  const code = sign.charCodeAt(0);
  if (code < 0x80) return code <= 0x20 ? ' ' : sign === '`' ? "'" : sign;
  const known = WRITTEN_AS[sign];
  if (known !== undefined) return known;
  if (APOSTROPHE.test(sign)) return "'";
  if (HYPHEN.test(sign)) return '-';
  if (/\s/u.test(sign)) return ' ';
  // A syllable of Hangul stays whole: a name must not end within one.
  return code >= 0xac00 && code <= 0xd7a3 ? sign : sign.normalize('NFKD').replace(UNSEEN, '');
}
