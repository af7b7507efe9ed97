import { leftAxis, type ValueScale, valueScale, wholeTicks } from './axes.js';
import { barPart, partsLegend } from './barLook.js';
import { type Field, figure, label } from './figure.js';
import { INK, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, tag, text } from './markup.js';
import { isolated, numberText } from './printed.js';
import { textWidth } from './textWidth.js';

/** Counts or amounts along time, stacked in up to three parts. */
export interface ColumnsChartData {
  title: string;
  /** What stands behind it: number of lines, days. */
  subtitle: string;
  /** Quantity and unit of the left axis. */
  axis: string;
  /** Names of the parts, from the bottom up. */
  parts: readonly string[];
  columns: readonly { name: string; values: readonly number[] }[];
  summary: string;
  notes: readonly string[];
  /** As printed at the axis and when read aloud. */
  say?: (value: number) => string;
  marginLeft?: number;
}

export function columnsChart(data: ColumnsChartData): string {
  return figure({
    title: data.title,
    subtitle: data.subtitle,
    summary: data.summary,
    fieldHeight: 260,
    axisHeight: 34,
    ...(data.marginLeft === undefined ? {} : { marginLeft: data.marginLeft }),
    draw: (field) => draw(data, field),
    legend: partsLegend(data.parts),
    notes: data.notes,
  });
}

const sum = (values: readonly number[]): number => values.reduce((total, each) => total + each, 0);

function draw(data: ColumnsChartData, field: Field): Markup[] {
  const { columns, axis, say = (value) => numberText(value, 1) } = data;
  const most = Math.max(0, ...columns.map(({ values }) => sum(values)));
  const y = valueScale([0, most > 0 ? most * 1.06 : 1], [field.bottom, field.top + 14], say);
  const counts = columns.every(({ values }) => values.every(Number.isInteger));
  const ticks = counts && data.say === undefined ? wholeTicks(y.ticks) : y.ticks;
  const step = (field.right - field.left) / Math.max(1, columns.length);
  const widest = Math.max(1, ...columns.map(({ name }) => textWidth(name, SMALL_PX) + 8));
  const every = Math.max(1, Math.ceil(Math.min(widest, 110) / step));
  return [
    leftAxis(field, most > 0 ? ticks : [], axis),
    tag('line', { x1: field.left, x2: field.right, y1: field.bottom, y2: field.bottom, stroke: INK }),
    ...columns.map((column, i) =>
      drawColumn(data, column, field.left + (i + 0.5) * step, step, y, i % every === 0),
    ),
    most > 0
      ? NOTHING
      : label('nothing to show', (field.left + field.right) / 2, (field.top + field.bottom) / 2, {
          anchor: 'middle',
          fill: QUIET,
          halo: true,
        }),
  ];
}

function drawColumn(
  { parts, say = (value) => numberText(value, 1) }: ColumnsChartData,
  { name, values }: ColumnsChartData['columns'][number],
  x: number,
  step: number,
  y: ValueScale,
  named: boolean,
): Markup {
  const half = Math.min(24, step * 0.38);
  const told =
    parts.length < 2
      ? say(sum(values))
      : values.map((value, i) => `${parts[i] ?? ''} ${say(value)}`).join(', ');
  let below = 0;
  const boxes = values.map((value, part) => {
    const bottom = y(below);
    below += value;
    return barPart(part, x - half, y(below), 2 * half, bottom - y(below));
  });
  return tag(
    'g',
    {},
    tag('title', {}, text(`${isolated(name)}: ${told}`)),
    join(boxes),
    step > 26 && sum(values) > 0
      ? label(say(sum(values)), x, y(below) - 4, {
          anchor: 'middle',
          size: SMALL_PX,
          fill: QUIET,
          maxWidth: step + 8,
        })
      : NOTHING,
    named
      ? label(isolated(name), x, y(0) + 17, { anchor: 'middle', size: SMALL_PX, maxWidth: 110 })
      : NOTHING,
  );
}
