import { createRequire } from 'node:module';
import pdfmake from 'pdfmake';
import type { Content, CustomTableLayout, TableCell, TDocumentDefinitions } from 'pdfmake/interfaces.js';
import { QUIET } from './look.js';
import { asRead, text } from './markup.js';
import {
  type Block,
  type Box,
  type Column,
  type Field,
  fitsAPage,
  groupsOf,
  type Item,
  type ListMarks,
  type Paper,
  plain,
  type Words,
} from './paper.js';
import { FIRST_ALONE, type PrintedFaces } from './printedFaces.js';
import { byFace, linesAsSet, type ReadRun, runsRightToLeft } from './printedOrder.js';
import { brokenWords, textWidth } from './textWidth.js';

const font = (face: string): string =>
  createRequire(import.meta.url).resolve(`dejavu-fonts-ttf/ttf/DejaVuSansCondensed${face}.ttf`);
const FIRST_FACE = 'DejaVu Sans Condensed';
const FIRST_FILES = {
  normal: font(''),
  bold: font('-Bold'),
  italics: font('-Oblique'),
  bolditalics: font('-BoldOblique'),
};
/** For letters that the first one lacks. */
const SECOND_FACE = 'Unifontex';

// What is printed is in the paper itself: nothing is fetched, and no file but the faces is read.
pdfmake.setUrlAccessPolicy(() => false);
setFaces({});

function setFaces(more: Record<string, typeof FIRST_FILES>): void {
  const known = { [FIRST_FACE]: FIRST_FILES, ...more };
  pdfmake.setFonts(known);
  const files = Object.values(known).flatMap((face) => Object.values(face));
  pdfmake.setLocalAccessPolicy((path) => files.includes(path));
}

/** What is known of them; as the printer's own list, one for the process. */
let faces = FIRST_ALONE;
let hasSecond = false;

/** Once a paper has letters of the second face, the printer has it; bold letters are not bolder there. */
function withSecondFace(): void {
  const { file } = faces.second();
  if (hasSecond || file === '') return;
  setFaces({ [SECOND_FACE]: { normal: file, bold: file, italics: file, bolditalics: file } });
  hasSecond = true;
}

const MM = 72 / 25.4;
const MARGIN = 14 * MM;
const PAGES = { metric: { size: 'A4', width: 210 * MM }, us: { size: 'LETTER', width: 8.5 * 72 } } as const;
/** Share of a page under which a heading goes to the next one. */
const NO_HEADING_BELOW = 0.88;
const LETTER_SIZE = 9;
/** Points beside the words: of a page number, a box's number, a mark before an item, and a cell's edges. */
const PAGE_NUMBER = 60;
const BOX_NUMBER = 24;
const MARK = 14;
const PADDING = 14;
const MOST_PICTURE_HEIGHT = { small: 58 * MM, usual: 116 * MM, tall: 200 * MM };

/**
 * A paper as PDF, on A4 or Letter; the same paper gives the same bytes.
 *
 * @param known Absent: letters that the first face lacks stand as frames, and the paper says so.
 */
export async function paperPdf(paper: Paper, known: PrintedFaces = FIRST_ALONE): Promise<Buffer> {
  faces = known;
  const page = PAGES[paper.units];
  const width = page.width - 2 * MARGIN;
  const groups = groupsOf(paper.blocks);
  const letters = lettersOf(paper);
  if (letters.second) withSecondFace();
  const definition: TDocumentDefinitions = {
    pageSize: page.size,
    pageMargins: [MARGIN, 13 * MM, MARGIN, 17 * MM],
    info: {
      title: printable(paper.title),
      creator: 'Openbore',
      producer: 'Openbore',
      creationDate: new Date(`${paper.day}T00:00:00Z`),
    },
    language: 'en',
    displayTitle: true,
    defaultStyle: { font: FIRST_FACE, fontSize: LETTER_SIZE, lineHeight: 1.15, color: '#111111' },
    content: [
      ...(paper.from.length === 0 ? [] : [{ text: runs(paper.from, width), color: QUIET }]),
      { text: runs(paper.heading, width, 16), fontSize: 16, bold: true },
      ...paper.lead.map((words) => paragraph(words, width)),
      ...(letters.unsure ? [NOT_ALL_LETTERS] : []),
      rule(width, 2),
      ...groups.slice(0, -1).map((blocks) => kept(blocks, width)),
      {
        unbreakable: fitsAPage(groups.at(-1) ?? []),
        stack: [
          ...(groups.at(-1) ?? []).map((each) => block(each, width)),
          rule(width, 0.6),
          ...paper.foot.map((words) => paragraph(words, width)),
        ],
      },
    ],
    footer: (current, count) => ({
      margin: [MARGIN, 6 * MM, MARGIN, 0],
      fontSize: 8,
      color: QUIET,
      columns: [
        { text: runs([paper.title], width - PAGE_NUMBER, 8), width: '*' },
        { text: `${current}\u00A0/\u00A0${count}`, width: 'auto' },
      ],
    }),
    pageBreakBefore: ({ headlineLevel, startPosition }) =>
      headlineLevel === 1 && startPosition.verticalRatio > NO_HEADING_BELOW,
  };
  return pdfmake.createPdf(definition).getBuffer();
}

/**
 * Within what is kept together nothing else is, and no page is broken: the printer would lose it. A longer group
 * begins on a new page where its heading would stand at the foot of one.
 */
const kept = (blocks: readonly Block[], width: number): Content => ({
  ...(fitsAPage(blocks) ? { unbreakable: true } : { headlineLevel: 1 }),
  stack: blocks.map((each) => block(each, width)),
});

/** Direction marks and control characters have no glyph. */
const WITHOUT_GLYPH = /(?!\n)[\p{Cc}\u200E\u200F\u202A-\u202E]/gu;
/** Nor have these, which keep somebody's words from turning the others around: wanted until lines are set. */
const ISOLATES = /[\u2066-\u2069]/g;

const directed = (words: string): string => words.toWellFormed().replace(WITHOUT_GLYPH, '');
const printable = (words: string): string => directed(words).replace(ISOLATES, '');

/** Scripts whose letters change place or shape beside one another: the second face has no rules for that. */
const SHAPED =
  /[\p{Script=Devanagari}\p{Script=Bengali}\p{Script=Gurmukhi}\p{Script=Gujarati}\p{Script=Oriya}\p{Script=Tamil}\p{Script=Telugu}\p{Script=Kannada}\p{Script=Malayalam}\p{Script=Sinhala}\p{Script=Khmer}\p{Script=Myanmar}\p{Script=Tibetan}\p{Script=Mongolian}\p{Script=Syriac}]/u;

/** Whether a paper takes the second face, and has words that neither face is sure to print as they are written. */
function lettersOf(paper: Paper): { second: boolean; unsure: boolean } {
  const written = JSON.stringify(
    [paper.title, paper.blocks, paper.lead, paper.from, paper.heading, paper.foot],
    (_, value: unknown) => (value instanceof Uint8Array ? null : value),
  );
  const all = printable(written);
  const others = [...new Set(all)]
    .map((letter) => letter.codePointAt(0) ?? 0)
    .filter((code) => code > 0xff && !faces.firstHas(code));
  if (others.length === 0) return { second: false, unsure: false };
  const { has } = faces.second();
  return { second: true, unsure: SHAPED.test(all) || others.some((code) => !has(code)) };
}

const NOT_ALL_LETTERS: Content = {
  text: 'Some words are in a script that this print sets letter by letter, or lacks letters of: print the page as HTML.',
  bold: true,
  margin: [0, 3, 0, 0],
};

interface PrintedRun {
  text: string;
  bold?: boolean;
  color?: string;
  wordBreak?: 'break-all';
  font?: typeof SECOND_FACE;
}

/**
 * @param room Points that a line has for them: a word that is longer, such as a link, is broken; the printer would
 *   widen the cell beyond the page.
 * @param size Of the letters, points.
 */
function runs(words: Words, room: number, size = LETTER_SIZE): PrintedRun[] {
  const read = words.map((run): ReadRun<Style> => {
    if (typeof run === 'string') return { text: directed(run), style: {}, isolated: false };
    const style = { ...(run.strong ? { bold: true } : {}), ...(run.quiet ? { color: QUIET } : {}) };
    return { text: directed(run.words), style, isolated: run.theirs === true };
  });
  if (read.some(({ text }) => runsRightToLeft(text)))
    return linesAsSet(read, room * SURE, size, faces).flatMap((line, i) => [
      ...(i > 0 ? [{ text: '\n' }] : []),
      ...line.map(({ text, style, second }) => ({ ...style, ...inFace(text, second) })),
    ]);
  return read.flatMap(({ text, style }) =>
    brokenWords(printable(text), room * SURE, size).flatMap((part) =>
      byFace(part.text, faces).map((own) => ({
        ...style,
        ...inFace(own.text, own.second),
        ...(part.anywhere ? { wordBreak: 'break-all' as const } : {}),
      })),
    ),
  );
}

type Style = Pick<PrintedRun, 'bold' | 'color'>;

const inFace = (text: string, second: boolean): PrintedRun => ({
  text,
  ...(second ? { font: SECOND_FACE } : {}),
});

/** Bold letters are wider than they are taken to be. */
const SURE = 0.85;

const paragraph = (words: Words, width: number): Content => ({
  text: runs(words, width),
  margin: [0, 1, 0, 1],
});

const rule = (width: number, lineWidth: number): Content => ({
  canvas: [{ type: 'line', x1: 0, y1: 0, x2: width, y2: 0, lineWidth }],
  margin: [0, 4, 0, 6],
});

function block(each: Block, width: number): Content {
  switch (each.kind) {
    case 'heading':
      return {
        text: runs([each.words], width, 12),
        fontSize: 12,
        bold: true,
        margin: [0, 10, 0, 3],
      };
    case 'text':
      return paragraph(each.words, width);
    case 'list':
      return listOf(each.marks, each.items, width);
    case 'table':
      return tableOf(each.columns, each.rows, width);
    case 'box':
      return boxOf(each, width);
    case 'between':
      return {
        table: { widths: ['*'], body: [[{ text: runs(each.words, width - PADDING) }]] },
        layout: LEFT_BAR,
        margin: [0, 0, 0, 9],
      };
    case 'fields':
      return {
        stack: [
          {
            canvas: [{ type: 'line', x1: 0, y1: 0, x2: width, y2: 0, lineWidth: 0.6, dash: { length: 3 } }],
            margin: [0, 5, 0, 4],
          },
          { text: runs([each.fields.map(fieldText).join('     ')], width) },
        ],
      };
    case 'picture':
      return {
        svg: drawable(each.svg),
        font: FIRST_FACE,
        alignment: 'center',
        fit: [width, MOST_PICTURE_HEIGHT[each.size ?? 'usual']],
        margin: [0, 4, 0, 4],
      };
    case 'photographs':
      return photographs(each.photographs, width);
    default:
      return each satisfies never;
  }
}

/** The printer knows no paint order: letters with a halo are drawn twice, the halo first. */
const drawable = (svg: string): string =>
  printable(svg)
    .replace(
      /<text([^>]*?) stroke="[^"]*" stroke-width="[^"]*" paint-order="stroke"( stroke-linejoin="[^"]*")?([^>]*>[^<]*<\/text>)/g,
      (halo, before, _join, after) => `${halo}<text${before}${after}`,
    )
    .replace(/(<text[^>]*>)([^<]+)(?=<\/text>)/g, (label, open, words) => {
      const read = asRead(words);
      if (!runsRightToLeft(read) && byFace(read, faces).every(({ second }) => !second)) return label;
      const [line = []] = linesAsSet(
        [{ text: read, style: null, isolated: true }],
        Infinity,
        LETTER_SIZE,
        faces,
      );
      const face = (second: boolean) => (second ? ` font-family="${SECOND_FACE}"` : '');
      return `${open}${line.map((run) => `<tspan${face(run.second)}>${text(run.text)}</tspan>`).join('')}`;
    });

function listOf(marks: ListMarks, items: readonly Item[], width: number): Content {
  const line = ({ words, under = [] }: Item): Content =>
    under.length === 0
      ? { text: runs(words, width - 2 * MARK) }
      : {
          stack: [{ text: runs(words, width - 2 * MARK) }, ...under.map((each) => block(each, width - MARK))],
        };
  if (marks === 'numbers')
    return {
      ol: items.map((item) => ({ stack: [line(item)], margin: [0, 1.5, 0, 1.5] })),
      margin: [0, 2, 0, 2],
    };
  if (marks === 'dots') return { ul: items.map(line), margin: [0, 1, 0, 1] };
  if (marks === 'ticks') return ticks(items, width);
  const cautions = items.map(({ words }) => ({
    columns: [
      { text: '⚠', width: 10 },
      { text: runs(words, width - PADDING - MARK), width: '*' },
    ],
  }));
  return { table: { widths: ['*'], body: [[{ stack: cautions }]] }, layout: CAUTION, margin: [0, 2, 0, 3] };
}

const TICK_COLUMNS = 3;
const TICK_GAP = 8;

function ticks(items: readonly Item[], width: number): Content {
  const room = width / TICK_COLUMNS - TICK_GAP - MARK;
  const each = Math.ceil(items.length / TICK_COLUMNS);
  return {
    columns: Array.from({ length: TICK_COLUMNS }, (_, column) => ({
      stack: items
        .slice(column * each, (column + 1) * each)
        .map(({ words }) => ({ text: ['☐ ', ...runs(words, room)] })),
    })),
    columnGap: TICK_GAP,
  };
}

const isNarrow = (column: Column | undefined): boolean => column?.figures === true || column?.narrow === true;

/** Points that each of the columns whose words run on has for them, once the others have theirs. */
function roomOfCells(columns: readonly Column[], rows: readonly (readonly Words[])[], width: number): number {
  const wide = columns.filter((column) => !isNarrow(column)).length;
  const narrow = columns.map((column, i) =>
    isNarrow(column)
      ? Math.max(...[[column.head], ...rows.map((row) => row[i] ?? [])].map((words) => widthOf(plain(words))))
      : 0,
  );
  const taken = narrow.reduce((sum, each) => sum + each, 0) + columns.length * CELL_GAP;
  return Math.max(NARROWEST, (width - taken) / Math.max(1, wide));
}

const CELL_GAP = 7;
const NARROWEST = 40;
const widthOf = (words: string): number => textWidth(words, LETTER_SIZE) / SURE;

function tableOf(columns: readonly Column[], rows: readonly (readonly Words[])[], width: number): Content {
  const room = roomOfCells(columns, rows, width);
  const cell = (
    column: Column | undefined,
    own: { text: Content; bold?: true; noWrap?: true },
  ): TableCell => ({
    ...own,
    ...(column?.figures ? { alignment: 'right' as const } : {}),
    ...(isNarrow(column) ? { noWrap: true as const } : {}),
  });
  const head = columns.map((column) => cell(column, { text: column.head, bold: true, noWrap: true }));
  return {
    table: {
      headerRows: 1,
      dontBreakRows: true,
      widths: columns.map((column) => (isNarrow(column) ? 'auto' : '*')),
      body: [
        head,
        ...rows.map((row) =>
          row.map((words, i) => cell(columns[i], { text: runs(words, isNarrow(columns[i]) ? width : room) })),
        ),
      ],
    },
    layout: LINED,
    margin: [0, 2, 0, 4],
  };
}

function boxOf(each: Box, width: number): Content {
  const inside = width - PADDING;
  const room = Math.max(NARROWEST, inside - BOX_NUMBER - widthOf(each.aside) - 2 * HEAD_GAP);
  const head: Content = {
    columns: [
      ...(each.number === '' ? [] : [{ text: each.number, bold: true, fontSize: 13, width: BOX_NUMBER }]),
      { text: runs(each.head, room, 11), bold: true, fontSize: 11, width: '*' },
      {
        text: printable(each.aside),
        bold: true,
        noWrap: true,
        alignment: 'right' as const,
        width: 'auto' as const,
      },
    ],
    columnGap: HEAD_GAP,
  };
  return {
    table: {
      widths: ['*'],
      body: [[head], [{ stack: each.blocks.map((inner) => block(inner, inside)) }]],
    },
    layout: BOXED,
    margin: [0, 0, 0, 10],
  };
}

const HEAD_GAP = 6;

/** Letters; a longer label, with a name in it, may go over more than a line. */
const LONG_LABEL = 40;
const BLANKS = { short: '_'.repeat(9), long: '_'.repeat(26) };

function fieldText(field: Field): string {
  const filled =
    'blank' in field ? BLANKS[field.blank] : field.answers.map((answer) => `☐\u00A0${answer}`).join('  ');
  const label = field.label.length > LONG_LABEL ? field.label : field.label.replaceAll(' ', '\u00A0');
  return label === '' ? filled : `${label}\u00A0${filled}`;
}

function photographs(all: Extract<Block, { kind: 'photographs' }>['photographs'], width: number): Content {
  const half = (width - 12) / 2;
  const pairs = Array.from({ length: Math.ceil(all.length / 2) }, (_, i) => all.slice(2 * i, 2 * i + 2));
  return pairs.map((pair) => ({
    columnGap: 12,
    margin: [0, 4, 0, 4],
    columns: pair.map(({ jpeg, caption }) => ({
      width: half,
      stack: [
        {
          image: `data:image/jpeg;base64,${Buffer.from(jpeg).toString('base64')}`,
          fit: [half, 62 * MM] as [number, number],
        },
        {
          text: runs(caption, half, 8),
          fontSize: 8,
          margin: [0, 2, 0, 0] as [number, number, number, number],
        },
      ],
    })),
  }));
}

const layout = (own: CustomTableLayout): CustomTableLayout => ({
  hLineWidth: () => 0,
  vLineWidth: () => 0,
  hLineColor: () => '#111111',
  vLineColor: () => '#111111',
  paddingLeft: () => 7,
  paddingRight: () => 7,
  paddingTop: () => 3,
  paddingBottom: () => 3,
  ...own,
});
const LEFT_BAR = layout({ vLineWidth: (i) => (i === 0 ? 2.5 : 0), vLineColor: () => '#777777' });
const CAUTION = layout({ hLineWidth: () => 0.6, vLineWidth: (i) => (i === 0 ? 3 : 0.6) });
const BOXED = layout({ hLineWidth: (i) => (i === 1 ? 0.6 : 1), vLineWidth: () => 1 });
const LINED = layout({
  hLineWidth: (i) => (i === 0 ? 0 : 0.4),
  hLineColor: () => '#999999',
  paddingLeft: () => 0,
  paddingTop: () => 2,
  paddingBottom: () => 2,
});
