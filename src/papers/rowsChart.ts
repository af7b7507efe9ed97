import { bottomAxis, type ValueScale, valueScale, wholeTicks } from './axes.js';
import { barPart, partsLegend } from './barLook.js';
import { type Field, figure, label } from './figure.js';
import { QUIET, RULE, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, tag, text } from './markup.js';
import { isolated, numberText } from './printed.js';
import { textWidth } from './textWidth.js';

/** A quantity of named things, one under the other; its parts behind or under one another. */
export interface RowsChartData {
  title: string;
  subtitle: string;
  axis: string;
  parts: readonly string[];
  /** `stacked`: parts add up; `beside`: each from zero under the one before. */
  set: 'stacked' | 'beside';
  /** Each part's number stands at the end of its bar, so that a short one is seen; for parts beside one another. */
  numbers?: 'at_ends';
  /** `beyond` stands at the right end: the number behind the row. */
  rows: readonly { name: string; values: readonly number[]; beyond?: string }[];
  summary: string;
  notes: readonly string[];
  say?: (value: number) => string;
  /** Where the axis ends, whatever the rows say: 1 for shares. */
  most?: number;
}

/** More would not be read; the figures have them all. */
const MOST_ROWS = 30;
const NAME_PX = 262;
/** What is there is seen, however little. */
const SHORTEST_PX = 1.5;

export function rowsChart(data: RowsChartData): string {
  const shown = data.rows.slice(0, MOST_ROWS);
  const more = data.rows.length - shown.length;
  const rowPx = data.set === 'beside' ? 12 + 11 * data.parts.length : 24;
  const widest = Math.max(0, ...shown.map(({ beyond = '' }) => textWidth(beyond, SMALL_PX)));
  return figure({
    title: data.title,
    subtitle: data.subtitle,
    summary: data.summary,
    fieldHeight: Math.max(2, shown.length) * rowPx,
    marginLeft: NAME_PX,
    marginRight: Math.min(190, 24 + widest),
    draw: (field) => draw(data, shown, rowPx, field),
    legend: partsLegend(data.parts),
    notes: [
      ...(more > 0 ? [`${numberText(more)} more rows stand in the figures as JSON and CSV.`] : []),
      ...data.notes,
    ],
  });
}

const lengthOf = ({ values }: RowsChartData['rows'][number], set: RowsChartData['set']): number =>
  set === 'stacked' ? values.reduce((total, each) => total + each, 0) : Math.max(0, ...values);

function draw(data: RowsChartData, shown: RowsChartData['rows'], rowPx: number, field: Field): Markup[] {
  const { say = (value) => numberText(value, 1) } = data;
  const longest = Math.max(0, ...shown.map((row) => lengthOf(row, data.set)));
  const x = valueScale([0, data.most ?? (longest > 0 ? longest * 1.02 : 1)], [field.left, field.right], say);
  if (shown.length === 0 || longest === 0) {
    return [
      bottomAxis(field, [], data.axis),
      label('nothing to show', (field.left + field.right) / 2, (field.top + field.bottom) / 2 + 4, {
        anchor: 'middle',
        fill: QUIET,
      }),
    ];
  }
  const counts = shown.every(({ values }) => values.every(Number.isInteger));
  const ticks = counts && data.say === undefined ? wholeTicks(x.ticks) : x.ticks;
  return [
    ...ticks.map(({ at }) => tag('line', { x1: at, x2: at, y1: field.top, y2: field.bottom, stroke: RULE })),
    ...shown.map((row, i) => drawRow(data, row, field.top + i * rowPx, rowPx, x, field)),
    bottomAxis(field, ticks, data.axis),
  ];
}

function drawRow(
  { parts, set, numbers, say = (value) => numberText(value, 1) }: RowsChartData,
  { name, values, beyond }: RowsChartData['rows'][number],
  top: number,
  rowPx: number,
  x: ValueScale,
  field: Field,
): Markup {
  const told = values
    .map((value, i) => `${parts.length > 1 ? `${parts[i] ?? ''} ` : ''}${say(value)}`)
    .join(', ');
  const height = set === 'stacked' ? 15 : 10;
  let from = 0;
  const bars = values.map((value, part) => {
    const start = set === 'stacked' ? from : 0;
    from += value;
    const y = set === 'stacked' ? top + (rowPx - height) / 2 : top + 6 + part * 11;
    const width = x(start + value) - x(start);
    const bar = barPart(part, x(start), y, value > 0 ? Math.max(SHORTEST_PX, width) : 0, height);
    if (numbers === undefined) return bar;
    return join([
      bar,
      label(say(value), x(start) + Math.max(SHORTEST_PX, width) + 4, y + 9, { size: SMALL_PX, halo: true }),
    ]);
  });
  const middle = top + rowPx / 2 + 4;
  return tag(
    'g',
    {},
    tag('title', {}, text(`${isolated(name)}: ${told}${beyond === undefined ? '' : ` (${beyond})`}`)),
    label(isolated(name), field.left - 8, middle, { anchor: 'end', maxWidth: NAME_PX - 26 }),
    join(bars),
    beyond === undefined
      ? NOTHING
      : label(beyond, field.right + 8, middle, { size: SMALL_PX, fill: QUIET, maxWidth: 170 }),
  );
}
