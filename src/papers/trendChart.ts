import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import { bottomAxis, dayScale, dayTicks, leftAxis } from './axes.js';
import { band, curve } from './curves.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, FUTURE_BAND, INK, LIMIT, PAST, PAST_BAND, QUIET, SMALL_PX } from './look.js';
import { type Markup, NOTHING, tag } from './markup.js';
import { paceText } from './paceWords.js';
import { countText, dayText, isolated, quantityText, shareText } from './printed.js';
import { textWidth } from './textWidth.js';
import type { TrendChartData, TrendPlaces, TrendPoint } from './trendChartData.js';
import { cleanTicks } from './trendCleans.js';
import { trendLegend } from './trendLegend.js';
import { readingMarks } from './trendReadings.js';
import { DUE_RULE_TEXT, LINE_KIND_TEXT, MATERIAL_TEXT } from './wording.js';

/** Room for the names of the limits. */
const MARGIN_RIGHT = 96;
/** Room above 100 % for the names of the marked days. */
const HEADROOM_PX = 52;

/** How one line fouls: what was found, what is believed, what is to come, and the day it is due. */
export function trendChart(data: TrendChartData): string {
  const { first, last } = daysShown(data);
  const draw = (field: Field): Markup[] => {
    const places: TrendPlaces = {
      x: dayScale(first, last, field),
      y: (share) => field.bottom - Math.min(1, Math.max(0, share)) * (field.bottom - field.top - HEADROOM_PX),
    };
    return [
      ...data.past.map((stretch) => belief(stretch, places, PAST_BAND)),
      ...futureBands(data, places),
      leftAxis(
        field,
        [0, 0.2, 0.4, 0.6, 0.8, 1].map((share) => ({ at: places.y(share), label: shareText(share) })),
        'blocked share of the bore’s area',
      ),
      ...limitLines(data.limits, field, places),
      ...data.past.map((stretch) => median(stretch, places, { stroke: PAST, 'stroke-width': 2 })),
      ...markedDays(data, field, places),
      cleanTicks(data.cleans, field, places),
      readingMarks(data.readings, places),
      bottomAxis(field, dayTicks(first, last, field), ''),
      data.readings.length > 0
        ? NOTHING
        : label('no reading yet', (field.left + field.right) / 2, field.top + HEADROOM_PX + 18, {
            anchor: 'middle',
            fill: QUIET,
            halo: true,
          }),
    ];
  };
  return figure({
    title: `Trend of ${isolated(data.lineName)}, ${isolated(data.siteName)}`,
    subtitle: subtitle(data),
    summary: summary(data),
    fieldHeight: 330,
    marginRight: MARGIN_RIGHT,
    axisHeight: 32,
    draw,
    legend: trendLegend(data),
    notes: [
      paceText(data.pace, data.boreMm, data.units, data.pluggedSince),
      'Thin bars on a reading: one standard error of its method. Band: 80 % of what is believed possible.',
    ],
  });
}

function daysShown(data: TrendChartData): { first: IsoDate; last: IsoDate } {
  const days = [
    data.today,
    ...data.readings.map(({ on }) => on),
    ...data.cleans.map(({ on }) => on),
    ...data.past.flat().map(({ on }) => on),
    ...data.future.map(({ on }) => on),
    ...(data.due === null ? [] : [data.due.on]),
  ].sort((a, b) => dayNumber(a) - dayNumber(b));
  return { first: days[0] ?? data.today, last: days.at(-1) ?? data.today };
}

function subtitle({ kind, material, boreMm, units, readings, cleans }: TrendChartData): string {
  const doubtful = readings.filter(({ weight }) => weight < 0.5).length;
  const confirmed = readings.filter((reading) => reading.confirmed).length;
  const judged = [
    ...(doubtful === 0 ? [] : [`${doubtful} doubtful`]),
    ...(confirmed === 0 ? [] : [`${confirmed} confirmed by a person`]),
  ];
  return [
    LINE_KIND_TEXT[kind],
    boreMm === null ? 'bore unknown' : quantityText(boreMm, 'bore', units),
    MATERIAL_TEXT[material],
    countText(readings.length, 'reading') + (judged.length === 0 ? '' : ` (${judged.join(', ')})`),
    countText(cleans.length, 'clean'),
  ].join(' · ');
}

function summary({ today, future, due, limits }: TrendChartData): string {
  const now = future[0];
  return [
    now === undefined
      ? 'No forecast yet.'
      : `On ${dayText(now.on)} believed ${shareText(now.q50)} blocked, 80 % band ${shareText(now.q10)} to ${shareText(now.q90)}.`,
    due === null ? 'No due date.' : `Due ${dayText(due.on)}: ${DUE_RULE_TEXT[due.rule]}.`,
    `Action limit ${shareText(limits.action)}, plug limit ${shareText(limits.plug)}. Today is ${dayText(today)}.`,
  ].join(' ');
}

function belief(points: readonly TrendPoint[], { x, y }: TrendPlaces, fill: string): Markup {
  return band(
    points.map(({ on, q10, q90 }) => ({ x: x(on), low: y(q10), high: y(q90) })),
    { fill },
  );
}

function median(
  points: readonly TrendPoint[],
  { x, y }: TrendPlaces,
  look: Record<string, string | number>,
): Markup {
  return curve(
    points.map(({ on, q50 }) => ({ x: x(on), y: y(q50) })),
    look,
  );
}

/** Full strength up to the due date; paler beyond, where a visit should have come. */
function futureBands(data: TrendChartData, places: TrendPlaces): Markup[] {
  const due = data.due;
  const [until, beyond] = due === null ? [data.future, []] : splitAt(data.future, due.on);
  const edge = { stroke: FUTURE, 'stroke-width': 0.8, 'stroke-dasharray': '1 3' };
  const edges = (share: 'q10' | 'q90'): Markup =>
    curve(
      data.future.map((point) => ({ x: places.x(point.on), y: places.y(point[share]) })),
      edge,
    );
  return [
    belief(until, places, FUTURE_BAND),
    tag('g', { opacity: 0.5 }, belief(beyond, places, FUTURE_BAND)),
    edges('q10'),
    edges('q90'),
    median(until, places, { stroke: FUTURE, 'stroke-width': 2, 'stroke-dasharray': '7 3' }),
    median(beyond, places, { stroke: FUTURE, 'stroke-width': 1.2, 'stroke-dasharray': '3 4' }),
  ];
}

/** Both parts meet on the day itself, read off between its neighbours. */
function splitAt(
  points: readonly TrendPoint[],
  day: IsoDate,
): [readonly TrendPoint[], readonly TrendPoint[]] {
  const at = dayNumber(day);
  const before = points.filter(({ on }) => dayNumber(on) <= at);
  const after = points.filter(({ on }) => dayNumber(on) > at);
  const [left, right] = [before.at(-1), after[0]];
  if (left === undefined || right === undefined) return [before, after];
  const share = (at - dayNumber(left.on)) / (dayNumber(right.on) - dayNumber(left.on));
  const between = (a: number, b: number): number => a + share * (b - a);
  const meeting = {
    on: day,
    q10: between(left.q10, right.q10),
    q50: between(left.q50, right.q50),
    q90: between(left.q90, right.q90),
  };
  return [
    [...before, meeting],
    [meeting, ...after],
  ];
}

function limitLines({ action, plug }: TrendChartData['limits'], field: Field, { y }: TrendPlaces): Markup[] {
  const plugY = y(plug);
  const actionY = y(action);
  // Names stand in the margin, apart even where the limits nearly meet.
  const actionNameY = plugY <= actionY ? Math.max(actionY, plugY + 15) : Math.min(actionY, plugY - 15);
  const limit = (at: number, nameAt: number, name: string, share: number, dashes: string): Markup[] => [
    tag('line', {
      x1: field.left,
      x2: field.right,
      y1: at,
      y2: at,
      stroke: LIMIT,
      'stroke-width': 1.4,
      'stroke-dasharray': dashes,
    }),
    label(`${name} ${shareText(share)}`, field.right + 6, nameAt + 4, { fill: LIMIT, size: SMALL_PX }),
  ];
  return [
    ...limit(plugY, plugY, 'plug limit', plug, '2 3'),
    ...limit(actionY, actionNameY, 'act at', action, '9 4'),
  ];
}

function markedDays({ today, due }: TrendChartData, field: Field, { x }: TrendPlaces): Markup[] {
  const now = `today, ${dayText(today)}`;
  const nowLook = { stroke: INK, 'stroke-width': 1 };
  if (due === null) return markedDay(now, x(today), field, 10, nowLook);
  const words = `due ${dayText(due.on)}: ${DUE_RULE_TEXT[due.rule]}`;
  const look = { stroke: FUTURE, 'stroke-width': 2, 'stroke-dasharray': '10 3 2 3' };
  if (fitsRight(words, x(due.on), field))
    return [...markedDay(now, x(today), field, 10, nowLook), ...markedDay(words, x(due.on), field, 26, look)];
  // Words that reach back over today stand above its line, and its own go the same way, clear of the due day's.
  return [
    ...markedDay(
      now,
      x(today),
      field,
      26,
      nowLook,
      x(today) - field.left < textWidth(now, SMALL_PX) ? 'right' : 'left',
    ),
    ...markedDay(words, x(due.on), field, 10, look, 'left'),
  ];
}

const fitsRight = (words: string, at: number, field: Field): boolean =>
  at + 5 + textWidth(words, SMALL_PX) < field.right + MARGIN_RIGHT - 6;

function markedDay(
  words: string,
  at: number,
  field: Field,
  down: number,
  look: Record<string, string | number>,
  side: 'left' | 'right' = fitsRight(words, at, field) ? 'right' : 'left',
): Markup[] {
  return [
    tag('line', { x1: at, x2: at, y1: field.top + down - 9, y2: field.bottom, ...look }),
    label(words, side === 'right' ? at + 5 : at - 5, field.top + down, {
      size: SMALL_PX,
      halo: true,
      ...(side === 'right' ? {} : { anchor: 'end' as const }),
    }),
  ];
}
