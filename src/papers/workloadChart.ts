import { dayNumber, type IsoDate, isoDate } from '../domain/calendar/isoDate.js';
import { leftAxis, type ValueScale, valueScale } from './axes.js';
import { curve } from './curves.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, FUTURE_BAND, INK, LIMIT, PAST, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, px, tag, text } from './markup.js';
import { countText, dayText, MONTHS, numberText, withUnit } from './printed.js';

/** What is coming week by week, against the hours there are. */
export interface WorkloadChartData {
  weeks: readonly WorkloadWeek[];
}

export interface WorkloadWeek {
  monday: IsoDate;
  /** Visits already on accepted routes or promised, and their crew-hours. */
  placedVisits: number;
  placedHours: number;
  /** Everything that will fall due, the placed included: visits in the median, hours with an 80 % band. */
  visits: number;
  hours: { q10: number; q50: number; q90: number };
  /** Crew-hours of all shifts. */
  capacityHours: number;
}

/** Crew-hours a week: placed, still to come with its band, and what the crews have. */
export function workloadChart(data: WorkloadChartData): string {
  const { weeks } = data;
  const visits = weeks.reduce((sum, week) => sum + week.visits, 0);
  const over = weeks.filter(({ hours, capacityHours }) => hours.q50 > capacityHours);
  return figure({
    title: 'Work of the coming weeks',
    subtitle: `${countText(weeks.length, 'week')} · ${countText(visits, 'visit')} expected`,
    summary:
      weeks.length === 0
        ? 'No week to show.'
        : over.length === 0
          ? 'Every week’s expected work fits the crews’ hours.'
          : `More work than hours in the weeks of ${over.map(({ monday }) => dayText(monday)).join(', ')}.`,
    fieldHeight: 280,
    axisHeight: 56,
    draw: (field) => draw(weeks, field),
    legend: [
      { label: 'placed', sample: (x, y) => box(x - 11, x + 11, y - 7, y + 7, PLACED) },
      { label: 'still to come', sample: (x, y) => box(x - 11, x + 11, y - 7, y + 7, TO_COME) },
      { label: '80 % band', sample: (x, y) => whisker(x, y - 8, y + 8) },
      {
        label: 'hours the crews have',
        sample: (x, y) => tag('line', { x1: x - 13, x2: x + 13, y1: y, y2: y, ...CAPACITY }),
      },
    ],
    notes: ['Under each week its Monday, and the visits expected. A black triangle: more work than hours.'],
  });
}

const PLACED = { fill: PAST, stroke: PAST } as const;
const TO_COME = { fill: FUTURE_BAND, stroke: FUTURE } as const;
const CAPACITY = { stroke: LIMIT, 'stroke-width': 2, 'stroke-dasharray': '9 4' } as const;

function draw(weeks: readonly WorkloadWeek[], field: Field): Markup[] {
  const most = Math.max(
    1,
    ...weeks.flatMap(({ hours, capacityHours, placedHours }) => [hours.q90, capacityHours, placedHours]),
  );
  const y = valueScale([0, most * 1.06], [field.bottom, field.top], (value) => numberText(value, 1));
  const step = (field.right - field.left) / Math.max(1, weeks.length);
  const every = Math.max(1, Math.ceil(50 / step));
  const capacity = weeks.flatMap(({ capacityHours }, i) => [
    { x: field.left + i * step, y: y(capacityHours) },
    { x: field.left + (i + 1) * step, y: y(capacityHours) },
  ]);
  return [
    leftAxis(field, y.ticks, 'crew-hours a week'),
    tag('line', { x1: field.left, x2: field.right, y1: field.bottom, y2: field.bottom, stroke: INK }),
    ...weeks.map((week, i) => drawWeek(week, field.left + (i + 0.5) * step, step, y, field, i % every === 0)),
    curve(capacity, CAPACITY),
    weeks.length > 0
      ? NOTHING
      : label('no week to show', (field.left + field.right) / 2, (field.top + field.bottom) / 2, {
          anchor: 'middle',
          fill: QUIET,
          halo: true,
        }),
  ];
}

function drawWeek(
  week: WorkloadWeek,
  x: number,
  step: number,
  y: ValueScale,
  field: Field,
  named: boolean,
): Markup {
  const { monday, placedVisits, placedHours, visits, hours, capacityHours } = week;
  const half = Math.min(22, step * 0.36);
  const spoken =
    `Week of ${dayText(monday)}: ${countText(visits, 'visit')}, ${withUnit(hours.q50, 'h')} (80 %: ${numberText(hours.q10)} to ${numberText(hours.q90)}), ` +
    `placed ${countText(placedVisits, 'visit')}, ${withUnit(placedHours, 'h')}; crews have ${withUnit(capacityHours, 'h')}`;
  const top = Math.min(y(placedHours), y(hours.q50));
  return tag(
    'g',
    {},
    tag('title', {}, text(spoken)),
    box(x - half, x + half, top, y(placedHours), TO_COME),
    box(x - half, x + half, y(placedHours), field.bottom, PLACED),
    whisker(x, y(hours.q90), y(hours.q10)),
    hours.q50 > capacityHours ? overMark(x, field.bottom) : NOTHING,
    named ? weekName(monday, visits, x, field.bottom) : NOTHING,
  );
}

function weekName(monday: IsoDate, visits: number, x: number, bottom: number): Markup {
  const [, month = '1', day = '1'] = isoDate(dayNumber(monday)).split('-');
  return join([
    label(`${Number(day)} ${MONTHS[Number(month) - 1] ?? ''}`, x, bottom + 22, {
      anchor: 'middle',
      size: SMALL_PX,
    }),
    label(numberText(visits), x, bottom + 37, { anchor: 'middle', size: SMALL_PX, fill: QUIET }),
  ]);
}

function box(
  left: number,
  right: number,
  top: number,
  bottom: number,
  look: { fill: string; stroke: string },
): Markup {
  if (bottom - top < 0.01) return NOTHING;
  return tag('rect', {
    x: left,
    y: top,
    width: right - left,
    height: bottom - top,
    ...look,
    'stroke-width': 0.8,
  });
}

function whisker(x: number, top: number, bottom: number): Markup {
  return tag(
    'g',
    { stroke: INK, 'stroke-width': 1.3 },
    tag('line', { x1: x, x2: x, y1: top, y2: bottom }),
    tag('line', { x1: x - 4, x2: x + 4, y1: top, y2: top }),
    tag('line', { x1: x - 4, x2: x + 4, y1: bottom, y2: bottom }),
  );
}

function overMark(x: number, bottom: number): Markup {
  return tag('path', { d: `M${px(x)} ${px(bottom + 2)}l5 8h-10Z`, fill: INK });
}
