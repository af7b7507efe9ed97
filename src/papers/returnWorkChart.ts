import { binomialInterval } from '../domain/statistics/binomialInterval.js';
import { type ValueScale, valueScale } from './axes.js';
import { type Field, figure, label } from './figure.js';
import { INK, PAST, PAST_BAND, QUIET, SMALL_PX } from './look.js';
import { type Markup, tag, text } from './markup.js';
import { isolated, numberText, shareText } from './printed.js';
import { drawUnderHeadings, type UnderHeading, underHeadings } from './underHeadings.js';

/** Orders that came back, by crew and task. */
export interface ReturnWorkChartData {
  subtitle: string;
  rows: readonly {
    crew: string;
    task: string;
    done: number;
    returns: number;
    /** Of the returns. */
    warranty: number;
    goodwill: number;
  }[];
  notes: readonly string[];
}

type ReturnRow = ReturnWorkChartData['rows'][number];

const ROW_PX = 24;
const NAME_PX = 200;
const MOST_ROWS = 40;

/** The share that came back with what it may be, crews under their task; those to which nothing came back in one row. */
export function returnWorkChart({ subtitle, rows, notes }: ReturnWorkChartData): string {
  const folded = foldNone(rows);
  const shown = underHeadings(folded.slice(0, MOST_ROWS), ({ task }) => task);
  const returns = rows.reduce((sum, row) => sum + row.returns, 0);
  return figure({
    title: 'Work that came back',
    subtitle,
    summary:
      returns === 0
        ? 'Nothing came back.'
        : folded
            .filter((row) => row.returns > 0)
            .map(inWords)
            .join(' '),
    fieldHeight: Math.max(2, shown.length) * ROW_PX,
    marginLeft: NAME_PX,
    marginRight: 214,
    draw: (field) => draw(shown, field),
    legend: [
      { label: 'share that came back', sample: shareMark },
      { label: 'what it may be, 95 %', sample: (x, y) => intervalBar(x - 13, x + 13, y) },
    ],
    notes: [
      'Few orders leave the share open: crews whose pale bars largely overlap are not told apart (Wilson’s interval).',
      ...(folded.length > MOST_ROWS
        ? [`${numberText(folded.length - MOST_ROWS)} more rows stand in the figures as JSON and CSV.`]
        : []),
      ...notes,
    ],
  });
}

/** Of each task the crews with a return, most likely first, then all others as one; tasks with most returns first. */
function foldNone(rows: readonly ReturnRow[]): ReturnRow[] {
  const tasks = new Map<string, ReturnRow[]>();
  for (const row of rows) tasks.set(row.task, [...(tasks.get(row.task) ?? []), row]);
  const returnsOf = (own: readonly ReturnRow[]) => own.reduce((sum, { returns }) => sum + returns, 0);
  const doneOf = (own: readonly ReturnRow[]) => own.reduce((sum, { done }) => sum + done, 0);
  return [...tasks]
    .sort(([, a], [, b]) => returnsOf(b) - returnsOf(a) || doneOf(b) - doneOf(a))
    .flatMap(([task, own]) => {
      const back = own.filter(({ returns }) => returns > 0);
      const none = own.filter(({ returns }) => returns === 0);
      const [only] = none;
      if (only === undefined) return byShare(back);
      const crew =
        none.length === 1 ? only.crew : back.length > 0 ? `${none.length} other crews` : 'all crews';
      return [...byShare(back), { crew, task, done: doneOf(none), returns: 0, warranty: 0, goodwill: 0 }];
    });
}

const byShare = (rows: readonly ReturnRow[]): ReturnRow[] =>
  [...rows].sort((a, b) => shareOf(b).share - shareOf(a).share);

/** A return may be for work done before the days asked about: no share is more than all. */
function shareOf({ returns, done }: ReturnRow): { share: number; low: number; high: number } {
  const among = Math.max(1, done);
  const hits = Math.min(returns, among);
  return { share: hits / among, ...binomialInterval(hits, among) };
}

/** As in "1 of 64: 0 % to 8 %, warranty". */
function told(row: ReturnRow): string {
  const { done, returns, warranty, goodwill } = row;
  const { low, high } = shareOf(row);
  const kinds = [
    { name: 'billable', count: returns - warranty - goodwill },
    { name: 'warranty', count: warranty },
    { name: 'goodwill', count: goodwill },
  ].filter(({ count }) => count > 0);
  const kind = kinds
    .map(({ name, count }) => (kinds.length > 1 ? `${numberText(count)} ${name}` : name))
    .join(', ');
  const share = `${numberText(returns)} of ${numberText(done)}: ${shareText(low)} to ${shareText(high)}`;
  return kind === '' ? share : `${share}, ${kind}`;
}

const inWords = (row: ReturnRow): string => `${isolated(row.crew)}, ${row.task}: ${told(row)}.`;

function draw(shown: readonly UnderHeading<ReturnRow>[], field: Field): Markup[] {
  const ends = shown.map((each) => ('row' in each ? endOf(each.row) : 0));
  const most = Math.max(0.1, ...ends);
  const x = valueScale([0, Math.min(1, most * 1.03)], [field.left, field.right], (share) => shareText(share));
  return drawUnderHeadings(shown, field, x, {
    rowPx: ROW_PX,
    namePx: NAME_PX,
    axis: 'share of the orders done',
    empty: 'no order done in these days',
    row: (row, y) => drawRow(row, y, x, field),
  });
}

/** An interval of fewer orders may run out of the field: it would press all others into a corner. */
const FEW = 10;

const endOf = (row: ReturnRow): number => (row.done >= FEW ? shareOf(row).high : shareOf(row).share);

function drawRow(row: ReturnRow, y: number, x: ValueScale, field: Field): Markup {
  const { share, low, high } = shareOf(row);
  return tag(
    'g',
    {},
    tag('title', {}, text(inWords(row))),
    label(isolated(row.crew), field.left - 8, y + 4, { anchor: 'end', maxWidth: NAME_PX - 40 }),
    intervalBar(x(low), Math.min(field.right, x(high)), y),
    shareMark(x(share), y),
    label(told(row), field.right + 8, y + 4, { size: SMALL_PX, fill: QUIET, maxWidth: 200 }),
  );
}

function intervalBar(from: number, to: number, y: number): Markup {
  return tag('rect', {
    x: from,
    y: y - 5,
    width: Math.max(1, to - from),
    height: 10,
    fill: PAST_BAND,
    stroke: PAST,
    'stroke-width': 0.7,
  });
}

function shareMark(x: number, y: number): Markup {
  return tag('line', { x1: x, x2: x, y1: y - 8, y2: y + 8, stroke: INK, 'stroke-width': 2.6 });
}
