import { createRequire } from 'node:module';
import type { Bidi } from 'bidi-js';
import { joinedArabic } from './arabicForms.js';
import type { PrintedFaces } from './printedFaces.js';
import { textWidth } from './textWidth.js';

/** Words of one style, as they are read. */
export interface ReadRun<Style> {
  text: string;
  style: Style;
  /** Kept from turning the direction of the words around it. */
  isolated: boolean;
}

/** Letters of one style and face, as they stand on the line from left to right. */
export interface SetRun<Style> {
  text: string;
  style: Style;
  second: boolean;
}

/** Its types say a module of the other kind. */
const bidi = (createRequire(import.meta.url)('bidi-js') as () => Bidi)();
/** Letters of scripts written from right to left, and the digits of two of them. */
const RIGHT_TO_LEFT =
  /[\p{Script=Hebrew}\p{Script=Arabic}\p{Script=Syriac}\p{Script=Thaana}\p{Script=Nko}\p{Script=Samaritan}\p{Script=Mandaic}\p{Script=Adlam}\u0660-\u0669\u06F0-\u06F9]/u;
/** Says of what script letters are; the printer goes by the first. */
const OF_A_SCRIPT = /[\p{L}\p{M}\u0660-\u0669\u06F0-\u06F9]/u;
const ARABIC = /\p{Script=Arabic}+(?:\p{M}*\p{Script=Arabic}+)*/gu;
const [ISOLATE, END] = ['\u2068', '\u2069'];
const ISOLATES = /[\u2066-\u2069]/;
/** Selects the look of the character before, or glues two into one: neither face has rules for them. */
const SELECTORS = /[\uFE00-\uFE0F\u200D]/g;
const graphemes = new Intl.Segmenter('und', { granularity: 'grapheme' });

export const runsRightToLeft = (text: string): boolean => RIGHT_TO_LEFT.test(text);

const isOfFirst = (text: string, { firstHas }: PrintedFaces): boolean =>
  [...text].every((each) => /\s/.test(each) || firstHas(each.codePointAt(0) ?? 0));

/** A text cut by the face its letters are in; what neither has stays in the first, as a frame. */
export function byFace(text: string, faces: PrintedFaces): { text: string; second: boolean }[] {
  if (isOfFirst(text, faces)) return [{ text, second: false }];
  const { has } = faces.second();
  const parts: { text: string; second: boolean }[] = [];
  for (const { segment } of pieces(text)) {
    const bare = segment.replace(SELECTORS, '');
    const second = !isOfFirst(bare, faces) && [...bare].every((each) => has(each.codePointAt(0) ?? 0));
    const set = second ? bare.replace(ARABIC, joinedArabic) : segment;
    const last = parts.at(-1);
    if (last?.second === second) last.text += set;
    else parts.push({ text: set, second });
  }
  return parts;
}

/** Letters with their marks; of Arabic whole words, whose letters join. */
function pieces(text: string): { segment: string }[] {
  const found: { segment: string }[] = [];
  let at = 0;
  for (const match of text.matchAll(ARABIC)) {
    found.push(...graphemes.segment(text.slice(at, match.index)), { segment: match[0] });
    at = match.index + match[0].length;
  }
  return [...found, ...graphemes.segment(text.slice(at))];
}

/**
 * Lines of a text in which words run from right to left, each in the order its letters stand on the paper, by the
 * Unicode bidirectional algorithm (UAX 9) in a paper written from left to right. The printer sets runs from left to
 * right, and letters within a run that is written from right to left in their own direction.
 *
 * @param room Points that a line has for letters of `size` points.
 */
export function linesAsSet<Style>(
  runs: readonly ReadRun<Style>[],
  room: number,
  size: number,
  faces: PrintedFaces,
): SetRun<Style>[][] {
  const styles: number[] = [];
  let text = '';
  runs.forEach((run, i) => {
    const read = run.isolated ? ISOLATE + run.text + END : run.text;
    for (let unit = 0; unit < read.length; unit++) styles.push(i);
    text += read;
  });
  const levels = bidi.getEmbeddingLevels(text, 'ltr');
  return linesOf(text, room, size).map(([start, end]) => {
    if (end <= start) return [];
    const order = bidi.getReorderedIndices(text, levels, start, end - 1).slice(start, end);
    return groupsOf(
      order.filter((at) => !ISOLATES.test(text[at] ?? '')),
      (at) => [styles[at], Number(levels.levels[at]) % 2, text[at] === ' '].join(),
    ).flatMap((group) => {
      const [first = 0] = group;
      const run = runs[styles[first] ?? 0];
      if (!run) return [];
      return setGroup(text, group, Number(levels.levels[first]) % 2 === 1, faces).map((part) => ({
        ...part,
        style: run.style,
      }));
    });
  });
}

function groupsOf(order: readonly number[], keyOf: (at: number) => string): number[][] {
  const groups: number[][] = [];
  let key: string | null = null;
  for (const at of order) {
    const own = keyOf(at);
    if (own === key) groups.at(-1)?.push(at);
    else groups.push([at]);
    key = own;
  }
  return groups;
}

/** One word or space as the printer takes it, by face, from left to right. */
function setGroup(
  text: string,
  group: readonly number[],
  isTurned: boolean,
  faces: PrintedFaces,
): { text: string; second: boolean }[] {
  const read = [...group].sort((a, b) => a - b).map((at) => text[at] ?? '');
  if (!isTurned) return byFace(read.join(''), faces).map((part) => turned(part, false));
  const mirrored = read.map((each) => bidi.getMirroredCharacter(each) ?? each).join('');
  return byFace(mirrored, faces)
    .map((part) => turned(part, true))
    .reverse();
}

/** The printer turns letters around whose script is written so, digits among them: what it would do wrong is done here. */
function turned<Part extends { text: string }>(part: Part, isTurned: boolean): Part {
  const printerTurns = runsRightToLeft(OF_A_SCRIPT.exec(part.text)?.[0] ?? '');
  return printerTurns === isTurned ? part : { ...part, text: [...part.text].reverse().join('') };
}

/** Where lines begin and end, their last spaces left out: at spaces, and inside a word only where it alone is wider. */
function linesOf(text: string, room: number, size: number): [number, number][] {
  const lines: [number, number][] = [];
  let start = 0;
  let width = 0;
  const end = (at: number, next: number): void => {
    lines.push([start, start + text.slice(start, at).trimEnd().length]);
    start = next;
    width = 0;
  };
  for (const { 0: word, index } of text.matchAll(/\n|[^\S\n]+|\S+/g)) {
    if (word === '\n') {
      end(index, index + 1);
      continue;
    }
    const own = textWidth(word, size);
    if (width + own > room && width > 0 && /\S/.test(word)) end(index, index);
    if (own <= room) {
      width += own;
      continue;
    }
    for (const { segment, index: at } of graphemes.segment(word)) {
      const letter = textWidth(segment, size);
      if (width + letter > room && width > 0) end(index + at, index + at);
      width += letter;
    }
  }
  end(text.length, text.length);
  return lines;
}
