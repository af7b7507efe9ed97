import { scaleLinear, scaleUtc } from 'd3-scale';
import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import { type Field, label } from './figure.js';
import { INK, QUIET, RULE, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, tag } from './markup.js';
import { MONTHS } from './printed.js';

export interface Tick {
  at: number;
  label: string;
}

/** Left axis with its rules across the field; `title` names the quantity and its unit. */
export function leftAxis(field: Field, ticks: readonly Tick[], title: string): Markup {
  return join([
    ...ticks.map(({ at, label: words }) =>
      join([
        tag('line', { x1: field.left, x2: field.right, y1: at, y2: at, stroke: RULE }),
        label(words, field.left - 7, at + 4, { anchor: 'end', size: SMALL_PX }),
      ]),
    ),
    label(title, 18, (field.top + field.bottom) / 2, { anchor: 'middle', fill: QUIET, turned: true }),
  ]);
}

/** Bottom axis with short ticks; `title` names the quantity and its unit, empty where the labels say it all. */
export function bottomAxis(field: Field, ticks: readonly Tick[], title: string): Markup {
  return join([
    tag('line', { x1: field.left, x2: field.right, y1: field.bottom, y2: field.bottom, stroke: INK }),
    ...ticks.map(({ at, label: words }) =>
      join([
        tag('line', { x1: at, x2: at, y1: field.bottom, y2: field.bottom + 5, stroke: INK }),
        label(words, at, field.bottom + 17, { anchor: 'middle', size: SMALL_PX }),
      ]),
    ),
    title === ''
      ? join([])
      : label(title, (field.left + field.right) / 2, field.bottom + 36, { anchor: 'middle', fill: QUIET }),
  ]);
}

/** Rows over an upright rule at each tick of the axis below; where there are none, that is said. */
export const comparedRows = (
  field: Field,
  ticks: readonly Tick[],
  title: string,
  rows: readonly Markup[],
  behind: Markup = NOTHING,
): Markup[] => [
  ...ticks.map(({ at }) => tag('line', { x1: at, x2: at, y1: field.top, y2: field.bottom, stroke: RULE })),
  behind,
  ...rows,
  bottomAxis(field, ticks, title),
  rows.length > 0
    ? NOTHING
    : label('nothing to compare yet', (field.left + field.right) / 2, field.top + 19, {
        anchor: 'middle',
        fill: QUIET,
        halo: true,
      }),
];

const DAY_MS = 86_400_000;

/** Places for calendar days between two of them, both included; a lone day stands in the middle of its own month. */
export function dayScale(first: IsoDate, last: IsoDate, field: Field): (day: IsoDate) => number {
  const [from, to] = span(first, last);
  const perDay = (field.right - field.left) / (to - from);
  return (day) => field.left + (dayNumber(day) - from) * perDay;
}

/** Ticks at round days, months or years; the year stands wherever it changes and at the first tick. */
export function dayTicks(first: IsoDate, last: IsoDate, field: Field): Tick[] {
  const [from, to] = span(first, last);
  const scale = scaleUtc([new Date(from * DAY_MS), new Date(to * DAY_MS)], [field.left, field.right]);
  const wanted = Math.max(2, Math.floor((field.right - field.left) / 85));
  let year = 0;
  return scale
    .ticks(wanted)
    .filter((date) => date.getTime() % DAY_MS === 0)
    .map((date) => {
      const month = MONTHS[date.getUTCMonth()] ?? '';
      const day = date.getUTCDate();
      const named = day === 1 ? month : `${day} ${month}`;
      const told = date.getUTCFullYear() === year ? named : `${named} ${date.getUTCFullYear()}`;
      year = date.getUTCFullYear();
      return { at: scale(date), label: told };
    });
}

function span(first: IsoDate, last: IsoDate): [number, number] {
  const from = dayNumber(first);
  const to = dayNumber(last);
  return to > from ? [from, to] : [from - 15, from + 15];
}

/** A scale of plain numbers over the field with round ends, and its ticks. */
export interface ValueScale {
  (value: number): number;
  ticks: Tick[];
}

/** Those at whole numbers: there is no half a line. */
export const wholeTicks = (ticks: readonly Tick[]): Tick[] =>
  ticks.filter(({ label: words }) => !words.includes('.'));

/** Places from `range[0]` to `range[1]` for values of `domain`, rounded outward unless `ends` says the ends are exact. */
export function valueScale(
  domain: readonly [number, number],
  range: readonly [number, number],
  format: (value: number) => string,
  ends?: 'exact',
): ValueScale {
  const [low, high] = domain[1] > domain[0] ? domain : [domain[0], domain[0] + 1];
  const count = Math.max(2, Math.round(Math.abs(range[1] - range[0]) / 65));
  const scale = scaleLinear([low, high], [...range]);
  if (ends === undefined) scale.nice(count);
  const ticks = scale.ticks(count).map((value) => ({ at: scale(value), label: format(value) }));
  return Object.assign((value: number) => scale(value), { ticks });
}
