import type { IsoDate } from '../domain/calendar/isoDate.js';
import { bottomAxis, leftAxis, valueScale, wholeTicks } from './axes.js';
import { type Field, figure, label } from './figure.js';
import { LIMIT, PAPER, PAST, PAST_BAND, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, tag, text } from './markup.js';
import { countText, dayText, numberText, shareText } from './printed.js';
import { textWidth } from './textWidth.js';

/** How a quantity is spread over the base: rates, occlusions. */
export interface DistributionChartData {
  title: string;
  asOf: IsoDate;
  /** Name and unit along the axis, as in "growth a year, share of the bore". */
  axis: string;
  values: 'share' | 'number';
  /** Side by side, in order; `count` is how many lines fall into each. */
  bins: readonly { from: number; to: number; count: number }[];
  /** Values to point out: medians, limits. */
  marks: readonly { name: string; at: number }[];
  /** The last bin holds what lies beyond it too. */
  lastIsOpen?: boolean;
  notes?: readonly string[];
}

/** A histogram of lines. */
export function distributionChart(data: DistributionChartData): string {
  const count = data.bins.reduce((sum, bin) => sum + bin.count, 0);
  const most = [...data.bins].sort((a, b) => b.count - a.count)[0];
  const said = saidBy(data.values);
  return figure({
    title: data.title,
    subtitle: `${countText(count, 'line')} · as of ${dayText(data.asOf)}`,
    summary: [
      most === undefined || count === 0
        ? 'No line to count.'
        : `Most lines, ${numberText(most.count)} of ${numberText(count)}, lie between ${said(most.from)} and ${said(most.to)}.`,
      ...data.marks.map(({ name, at }) => `${name}: ${said(at)}.`),
    ].join(' '),
    fieldHeight: 280,
    draw: (field) => draw(data, count, field),
    legend: [],
    notes: [
      ...(data.lastIsOpen && count > 0 ? ['The last bin holds what lies beyond it too.'] : []),
      ...(data.notes ?? []),
    ],
  });
}

function saidBy(values: 'share' | 'number'): (value: number) => string {
  return values === 'share' ? (value) => shareText(value, 1) : (value) => numberText(value, 2);
}

function draw({ bins, marks, axis, values }: DistributionChartData, count: number, field: Field): Markup[] {
  const said = saidBy(values);
  const first = bins[0]?.from ?? 0;
  const last = bins.at(-1)?.to ?? 1;
  const x = valueScale([first, last], [field.left, field.right], said, 'exact');
  const headroom = marks.length * 15;
  const most = Math.max(1, ...bins.map((bin) => bin.count));
  const y = valueScale([0, most], [field.bottom, field.top + headroom], (value) => numberText(value, 1));
  const inside = marks.filter(({ at }) => at >= first && at <= last);
  return [
    leftAxis(field, wholeTicks(y.ticks), 'lines'),
    ...bins.map((bin) =>
      tag(
        'g',
        {},
        tag('title', {}, text(`${said(bin.from)} to ${said(bin.to)}: ${countText(bin.count, 'line')}`)),
        tag('rect', {
          x: x(bin.from),
          y: y(bin.count),
          width: Math.max(0, x(bin.to) - x(bin.from)),
          height: field.bottom - y(bin.count),
          fill: PAST_BAND,
          stroke: PAST,
          'stroke-width': 0.8,
        }),
      ),
    ),
    bottomAxis(field, x.ticks, axis),
    ...inside.map(({ name, at }, i) => mark(`${name}: ${said(at)}`, x(at), field, 11 + i * 15)),
    count > 0
      ? NOTHING
      : label('no line to count', (field.left + field.right) / 2, (field.top + field.bottom) / 2, {
          anchor: 'middle',
          fill: QUIET,
          halo: true,
        }),
  ];
}

function mark(words: string, x: number, field: Field, down: number): Markup {
  const left = x + 5 + textWidth(words, SMALL_PX) > field.right;
  return join([
    tag('line', {
      x1: x,
      x2: x,
      y1: field.top + down - 9,
      y2: field.bottom,
      stroke: PAPER,
      'stroke-width': 4,
    }),
    tag('line', {
      x1: x,
      x2: x,
      y1: field.top + down - 9,
      y2: field.bottom,
      stroke: LIMIT,
      'stroke-width': 1.8,
      'stroke-dasharray': '6 3',
    }),
    label(words, left ? x - 5 : x + 5, field.top + down, {
      size: SMALL_PX,
      halo: true,
      fill: LIMIT,
      ...(left ? { anchor: 'end' as const } : {}),
    }),
  ]);
}
