import { type ValueScale, valueScale } from './axes.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, INK, PAPER, PAST, QUIET, SMALL_PX, TEXT_PX } from './look.js';
import { type Markup, NOTHING, px, tag, text } from './markup.js';
import { countText, isolated, numberText, shareText } from './printed.js';
import { fitText, textWidth } from './textWidth.js';
import { drawUnderHeadings, type UnderHeading, underHeadings } from './underHeadings.js';

/** What cleans found and left behind, a row per crew under its task. */
export interface CleanResultsChartData {
  subtitle: string;
  rows: readonly {
    crew: string;
    task: string;
    cleans: number;
    /** Means, shares of the bore; null where nothing was measured. */
    before: number | null;
    measuredBefore: number;
    after: number | null;
    measuredAfter: number;
    /** Median; share of the bore a month. */
    regrowthPerMonth: number | null;
    regrown: number;
  }[];
  notes: readonly string[];
}

type ResultRow = CleanResultsChartData['rows'][number];

const ROW_PX = 26;
const NAME_PX = 210;
const MOST_ROWS = 30;
/** A mean or median of fewer tells nothing of a crew (common practice, no source). */
const FEW = 5;

export function cleanResultsChart({ subtitle, rows, notes }: CleanResultsChartData): string {
  const ordered = byTask(rows);
  const shown = underHeadings(ordered.slice(0, MOST_ROWS), ({ task }) => task);
  return figure({
    title: 'What cleans find, and what they leave',
    subtitle,
    summary:
      rows.length === 0 ? 'No clean in these days.' : ordered.slice(0, MOST_ROWS).map(inWords).join(' '),
    fieldHeight: Math.max(2, shown.length) * ROW_PX,
    marginLeft: NAME_PX,
    marginRight: 180,
    draw: (field) => draw(shown, field),
    legend: [
      { label: 'before, mean', sample: beforeMark },
      { label: 'after, mean', sample: afterMark },
      { label: `of fewer than ${FEW} readings`, sample: (x, y) => fewMark(x, y) },
    ],
    notes: [
      'Crews under their task, tasks by their cleans, crews by what they leave; cleans in brackets.',
      'At the right how fast it came back, the median in shares of the bore a month, and how many cleans were followed by a reading.',
      ...(rows.length > MOST_ROWS
        ? [`${numberText(rows.length - MOST_ROWS)} more rows stand in the figures as JSON and CSV.`]
        : []),
      ...notes,
    ],
  });
}

/** Tasks with most cleans first; within, crews that leave least first, those that measured too little last. */
function byTask(rows: readonly ResultRow[]): ResultRow[] {
  const cleansOf = new Map<string, number>();
  for (const { task, cleans } of rows) cleansOf.set(task, (cleansOf.get(task) ?? 0) + cleans);
  const left = ({ after, measuredAfter }: ResultRow) => (after === null || measuredAfter < FEW ? 2 : after);
  return [...rows].sort(
    (a, b) =>
      (cleansOf.get(b.task) ?? 0) - (cleansOf.get(a.task) ?? 0) ||
      a.task.localeCompare(b.task, 'en') ||
      left(a) - left(b) ||
      b.cleans - a.cleans,
  );
}

function inWords({ crew, task, cleans, before, after }: ResultRow): string {
  const found = before === null ? 'not measured' : shareText(before);
  const left = after === null ? 'not measured' : shareText(after);
  return `${isolated(crew)}, ${task}: ${countText(cleans, 'clean')}, before ${found}, after ${left}.`;
}

function draw(shown: readonly UnderHeading<ResultRow>[], field: Field): Markup[] {
  const shares = shown
    .flatMap((each) => ('row' in each ? [each.row] : []))
    .flatMap(({ before, after }) => [before ?? 0, after ?? 0]);
  const x = valueScale([0, Math.max(0.1, ...shares) * 1.05], [field.left, field.right], (share) =>
    shareText(share),
  );
  return drawUnderHeadings(shown, field, x, {
    rowPx: ROW_PX,
    namePx: NAME_PX,
    axis: 'share of the bore blocked',
    empty: 'no clean to show',
    row: (row, y) => drawRow(row, y, x, field),
  });
}

function drawRow(row: ResultRow, y: number, x: ValueScale, field: Field): Markup {
  const { crew, cleans, before, after, regrowthPerMonth, regrown } = row;
  const back =
    regrowthPerMonth === null
      ? 'not read again'
      : regrown < FEW
        ? `too few to tell (${numberText(regrown)})`
        : `+${shareText(regrowthPerMonth, 1)} a month (${numberText(regrown)})`;
  return tag(
    'g',
    {},
    tag(
      'title',
      {},
      text(
        `${inWords(row)} Measured before ${numberText(row.measuredBefore)}, after ${numberText(row.measuredAfter)}; ${back}.`,
      ),
    ),
    label(nameWithCount(crew, cleans), field.left - 8, y + 4, { anchor: 'end' }),
    before !== null && after !== null
      ? tag('line', { x1: x(before), x2: x(after), y1: y, y2: y, stroke: INK, 'stroke-width': 1.4 })
      : NOTHING,
    before === null ? NOTHING : (row.measuredBefore < FEW ? fewMark : beforeMark)(x(before), y),
    after === null ? NOTHING : (row.measuredAfter < FEW ? fewMark : afterMark)(x(after), y),
    label(back, field.right + 10, y + 4, { size: SMALL_PX, fill: QUIET }),
  );
}

/** A long name is cut, never the number behind it. */
function nameWithCount(name: string, cleans: number): string {
  const count = ` (${numberText(cleans)})`;
  return `${isolated(fitText(name, NAME_PX - 24 - textWidth(count, TEXT_PX), TEXT_PX))}${count}`;
}

function beforeMark(x: number, y: number): Markup {
  return tag('circle', { cx: x, cy: y, r: 5, fill: PAPER, stroke: FUTURE, 'stroke-width': 2.2 });
}

function afterMark(x: number, y: number): Markup {
  return tag('rect', { x: x - 4.5, y: y - 4.5, width: 9, height: 9, fill: PAST });
}

/** A cross, so that nobody compares it with what many readings say. */
function fewMark(x: number, y: number): Markup {
  return tag('path', {
    d: `M${px(x - 4)} ${px(y - 4)}l8 8m0 -8l-8 8`,
    fill: 'none',
    stroke: QUIET,
    'stroke-width': 1.6,
  });
}
