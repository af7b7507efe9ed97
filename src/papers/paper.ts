import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { textWidth } from './textWidth.js';

/** A paper that leaves the house, told once; `paperHtml` and `paperPdf` print it. */
export interface Paper {
  /** Of the window and the file. */
  title: string;
  /** Who it comes from, small above the heading. */
  from: Words;
  heading: Words;
  lead: readonly Words[];
  blocks: readonly Block[];
  foot: readonly Words[];
  /** A PDF counts as made on this day, so that the same facts give the same bytes. */
  day: IsoDate;
  /** US papers are Letter, others A4. */
  units: UnitSystem;
}

export type Words = readonly (string | Run)[];

export interface Run {
  words: string;
  strong?: true;
  quiet?: true;
  /** From outside: kept from turning the direction of the words around them. */
  theirs?: true;
}

export type Block =
  | { kind: 'heading'; words: string }
  | { kind: 'text'; words: Words }
  | { kind: 'list'; marks: ListMarks; items: readonly Item[] }
  | { kind: 'table'; columns: readonly Column[]; rows: readonly (readonly Words[])[] }
  | Box
  /** A remark between boxes. */
  | { kind: 'between'; words: Words }
  | { kind: 'fields'; fields: readonly Field[] }
  /** Drawn by `figure.ts`. */
  | { kind: 'picture'; svg: string; size?: 'small' | 'tall' }
  | { kind: 'photographs'; photographs: readonly Photograph[] };

export type ListMarks = 'dots' | 'numbers' | 'ticks' | 'cautions';

export interface Item {
  words: Words;
  under?: readonly Block[];
}

export interface Column {
  head: string;
  /** Numbers and times: to the right, on one line. */
  figures?: true;
  /** On one line. */
  narrow?: true;
}

/** Kept on one page where a page holds it. */
export interface Box {
  kind: 'box';
  number: string;
  head: Words;
  aside: string;
  blocks: readonly Block[];
}

/** To be written in or ticked by hand. */
export type Field =
  | { label: string; blank: 'short' | 'long' }
  | { label: string; answers: readonly string[] };

export interface Photograph {
  jpeg: Uint8Array;
  caption: Words;
}

export const strong = (words: string): Run => ({ words, strong: true });
export const quiet = (words: string): Run => ({ words, quiet: true });
export const theirs = (words: string): Run => ({ words, theirs: true });

export function listed(names: readonly string[], between = ', '): Words {
  return names.flatMap((name, i) => (i === 0 ? [theirs(name)] : [between, theirs(name)]));
}

export const heading = (words: string): Block => ({ kind: 'heading', words });
export const paragraph = (...words: Words): Block => ({ kind: 'text', words });

export function list(marks: ListMarks, items: readonly Words[]): Block {
  return { kind: 'list', marks, items: items.map((words) => ({ words })) };
}

/** A section with its heading; nothing where it has nothing to say. */
export function section(title: string, ...blocks: readonly (Block | null)[]): Block[] {
  const said = blocks.filter((block) => block !== null);
  return said.length === 0 ? [] : [heading(title), ...said];
}

export const plain = (words: Words): string =>
  words.map((run) => (typeof run === 'string' ? run : run.words)).join('');

/** Points: size of letters, width of a line in a list in a box, on the low side; and lines that a page holds. */
const LETTER_SIZE = 9;
const LINE_WIDTH = 460;
const LINES_A_PAGE = 50;

/** Whether blocks together need no more than a page; by count, on the safe side. */
export const fitsAPage = (blocks: readonly Block[]): boolean => linesOf(blocks) <= LINES_A_PAGE;

/** A last page with fewer lines on it gets lost. */
const LEAST_ON_LAST_PAGE = 10;

/**
 * Blocks that are printed together: a heading stands with what it is the heading of, and the last of them are as
 * much as a last page should hold, so that no page bears a line or two.
 */
export function groupsOf(blocks: readonly Block[]): Block[][] {
  const groups: Block[][] = [];
  for (const each of blocks) {
    const last = groups.at(-1);
    if (last?.length === 1 && last[0]?.kind === 'heading') last.push(each);
    else groups.push([each]);
  }
  let tail = groups.pop() ?? [];
  while (linesOf(tail) < LEAST_ON_LAST_PAGE) {
    const more = [...(groups.at(-1) ?? []), ...tail];
    if (groups.length === 0 || !fitsAPage(more)) break;
    groups.pop();
    tail = more;
  }
  return [...groups, tail];
}

function linesOf(blocks: readonly Block[]): number {
  const ofWords = (words: Words): number =>
    Math.max(1, Math.ceil(textWidth(plain(words), LETTER_SIZE) / LINE_WIDTH));
  const sum = (numbers: readonly number[]): number => numbers.reduce((total, each) => total + each, 0);
  return sum(
    blocks.map((block) => {
      switch (block.kind) {
        case 'heading':
          return 2;
        case 'text':
        case 'between':
          return ofWords(block.words);
        case 'list':
          return 1 + sum(block.items.map(({ words, under = [] }) => ofWords(words) + linesOf(under)));
        case 'table':
          return 1 + sum(block.rows.map((row) => 1 + Math.max(...row.map(ofWords))));
        case 'box':
          return 3 + linesOf(block.blocks);
        case 'fields':
          return 3;
        case 'picture':
          return { small: 14, usual: 28, tall: 48 }[block.size ?? 'usual'];
        case 'photographs':
          return 18 * Math.ceil(block.photographs.length / 2);
        default:
          return block satisfies never;
      }
    }),
  );
}
