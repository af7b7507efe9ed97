import { bottomAxis, type ValueScale, valueScale } from './axes.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, INK, PAPER, PAST, QUIET, RULE, SMALL_PX, TEXT_PX } from './look.js';
import { type Markup, NOTHING, tag, text } from './markup.js';
import { countText, isolated, numberText, shareText } from './printed.js';
import { fitText, textWidth } from './textWidth.js';

/** What cleans found and left behind, a row per crew and task. */
export interface CleanResultsChartData {
  subtitle: string;
  rows: readonly {
    name: string;
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

const ROW_PX = 30;
const NAME_PX = 210;
const MOST_ROWS = 24;

export function cleanResultsChart({ subtitle, rows, notes }: CleanResultsChartData): string {
  const shown = rows.slice(0, MOST_ROWS);
  return figure({
    title: 'What cleans find, and what they leave',
    subtitle,
    summary: rows.length === 0 ? 'No clean in these days.' : shown.map(inWords).join(' '),
    fieldHeight: Math.max(2, shown.length) * ROW_PX,
    marginLeft: NAME_PX,
    marginRight: 180,
    draw: (field) => draw(shown, field),
    legend: [
      { label: 'before, mean', sample: beforeMark },
      { label: 'after, mean', sample: afterMark },
    ],
    notes: [
      'At the right how fast it came back, the median in shares of the bore a month, and how many cleans were followed by a reading.',
      ...(rows.length > shown.length
        ? [`${numberText(rows.length - shown.length)} more rows stand in the figures as JSON and CSV.`]
        : []),
      ...notes,
    ],
  });
}

function inWords({ name, cleans, before, after }: ResultRow): string {
  const found = before === null ? 'not measured' : shareText(before);
  const left = after === null ? 'not measured' : shareText(after);
  return `${isolated(name)}: ${countText(cleans, 'clean')}, before ${found}, after ${left}.`;
}

function draw(rows: readonly ResultRow[], field: Field): Markup[] {
  const shares = rows.flatMap(({ before, after }) => [before ?? 0, after ?? 0]);
  const x = valueScale([0, Math.max(0.1, ...shares) * 1.05], [field.left, field.right], (share) =>
    shareText(share),
  );
  return [
    ...x.ticks.map(({ at }) =>
      tag('line', { x1: at, x2: at, y1: field.top, y2: field.bottom, stroke: RULE }),
    ),
    ...rows.map((row, i) => drawRow(row, field.top + (i + 0.5) * ROW_PX, x, field)),
    bottomAxis(field, x.ticks, 'share of the bore blocked'),
    rows.length > 0
      ? NOTHING
      : label('no clean to show', (field.left + field.right) / 2, field.top + 24, {
          anchor: 'middle',
          fill: QUIET,
          halo: true,
        }),
  ];
}

function drawRow(row: ResultRow, y: number, x: ValueScale, field: Field): Markup {
  const { name, cleans, before, after, regrowthPerMonth, regrown } = row;
  const back =
    regrowthPerMonth === null
      ? 'not read again'
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
    label(nameWithCount(name, cleans), field.left - 8, y + 4, { anchor: 'end' }),
    before !== null && after !== null
      ? tag('line', { x1: x(before), x2: x(after), y1: y, y2: y, stroke: INK, 'stroke-width': 1.4 })
      : NOTHING,
    before === null ? NOTHING : beforeMark(x(before), y),
    after === null ? NOTHING : afterMark(x(after), y),
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
