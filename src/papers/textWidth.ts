/**
 * How wide words will be, without a browser to ask: ems by kind of letter, on the generous side for the
 * sans-serif faces of `look.ts`, so that what is fitted by this estimate fits.
 */
const NARROW = new Set([...".,:;!'|iljI()[]· "]);
const WIDE = new Set([...'mwMW@%—']);

export function textWidth(words: string, fontPx: number): number {
  let ems = 0;
  for (const letter of words) ems += emsOf(letter);
  return ems * fontPx;
}

function emsOf(letter: string): number {
  if (/\p{Mark}|\p{Cf}/u.test(letter)) return 0;
  if (NARROW.has(letter)) return 0.31;
  if (WIDE.has(letter)) return 0.92;
  if (
    /[\p{Script=Han}\p{Script=Hangul}\p{Script=Hiragana}\p{Script=Katakana}\p{Extended_Pictographic}\uFF00-\uFF60\u3000-\u303F]/u.test(
      letter,
    )
  )
    return /\d/.test(letter) ? 0.58 : 1.1;
  return /\p{Lu}/u.test(letter) ? 0.68 : 0.58;
}

const letters = new Intl.Segmenter('und', { granularity: 'grapheme' });

/** The words, cut with "…" where they would be wider; never inside a letter with its marks. */
export function fitText(words: string, widthPx: number, fontPx: number): string {
  if (textWidth(words, fontPx) <= widthPx) return words;
  let kept = '';
  let width = textWidth('…', fontPx);
  for (const { segment } of letters.segment(words)) {
    width += textWidth(segment, fontPx);
    if (width > widthPx) break;
    kept += segment;
  }
  return `${kept.trimEnd()}…`;
}

/** Lines no wider than `widthPx`, broken at spaces, and inside a word only when it alone is wider. */
export function wrapText(words: string, widthPx: number, fontPx: number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of words.split(/[ \t\r\n]+/).filter((each) => each !== '')) {
    const joined = line === '' ? word : `${line} ${word}`;
    if (textWidth(joined, fontPx) <= widthPx) {
      line = joined;
      continue;
    }
    if (line !== '') lines.push(line);
    line = '';
    for (const { segment } of letters.segment(word)) {
      if (line !== '' && textWidth(line + segment, fontPx) > widthPx) {
        lines.push(line);
        line = '';
      }
      line += segment;
    }
  }
  if (line !== '') lines.push(line);
  return lines;
}

/** Part of a text; `anywhere`: its lines may break between any two letters. */
export interface TextPart {
  text: string;
  anywhere: boolean;
}

/**
 * A text in parts, for a printer that breaks lines between words only: of a word that alone is wider than a line,
 * every letter can end one. A letter of several characters is a part of its own.
 */
export function brokenWords(words: string, widthPx: number, fontPx: number): TextPart[] {
  const parts: TextPart[] = [];
  const add = (text: string, anywhere: boolean): void => {
    const last = parts.at(-1);
    if (last && last.anywhere === anywhere) last.text += text;
    else parts.push({ text, anywhere });
  };
  for (const word of words.split(/(?<=\s)/)) {
    if (textWidth(word.trimEnd(), fontPx) <= widthPx) add(word, false);
    else
      for (const { segment } of letters.segment(word.normalize('NFC')))
        add(segment, segment.length === 1 && /\S/.test(segment));
  }
  return parts;
}
