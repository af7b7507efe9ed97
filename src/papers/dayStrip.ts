import { type Field, type Figure, figure, type LegendItem, label } from './figure.js';
import { INK, LIMIT, PAPER, QUIET, RULE, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, px, tag } from './markup.js';
import { clockText, countText, distanceText, durationText, weekdayText } from './printed.js';
import {
  crewCount,
  crewLetter,
  crewWords,
  type DayRoute,
  isOffMap,
  isRunning,
  numbered,
  type RoutesDay,
  type StopProgress,
} from './routesDay.js';
import { textWidth } from './textWidth.js';

const ROW_PX = 46;
const NAME_PX = 196;

/** Each crew's day along the hours: driving, on site, waiting, break. */
export function dayStrip(day: RoutesDay): string {
  return figure(dayStripFigure(day));
}

export function dayStripFigure(day: RoutesDay, width?: number): Figure {
  const { from, to } = hoursShown(day.routes);
  return {
    title: `Hours of ${weekdayText(day.day)}`,
    subtitle: `${countText(crewCount(day), 'crew')} · a crew’s letter and a stop’s number are those of the map`,
    summary: ['Day strip per crew.', ...day.routes.map((route) => inWords(route, day))].join(' '),
    fieldHeight: Math.max(1, day.routes.length) * ROW_PX,
    ...(width === undefined ? {} : { width }),
    marginLeft: NAME_PX,
    marginRight: 34,
    axisHeight: day.nowSeconds === undefined ? 30 : 42,
    draw: (field) => {
      const x = (seconds: number): number =>
        field.left + ((seconds - from) / (to - from)) * (field.right - field.left);
      return [
        hourGrid(from, to, x, field, day),
        ...day.routes.map((route, row) => crewRow(route, row, day, x, field)),
        nowLine(day, from, to, x, field),
        day.routes.length > 0
          ? NOTHING
          : label('no crew goes out', (field.left + field.right) / 2, field.top + 27, {
              anchor: 'middle',
              fill: QUIET,
              halo: true,
            }),
      ];
    },
    legend: [...LEGEND, ...(isRunning(day) ? RUNNING_LEGEND : []), ...offMapLegend(day)],
    notes: [],
  };
}

function inWords(route: DayRoute, { units }: RoutesDay): string {
  const { driving, onSite, waiting, resting } = totals(route);
  const idle = route.leaveSeconds - route.shiftStartSeconds;
  return (
    `${crewWords(route)}: leaves ${clockText(route.leaveSeconds, units)}, back ${clockText(route.endSeconds, units)}; ` +
    (idle >= IDLE_SHOWN ? `nothing planned for ${durationText(idle)} before, ` : '') +
    `driving ${durationText(driving)}, on site ${durationText(onSite)}, waiting ${durationText(waiting)}, break ${durationText(resting)}.`
  );
}

/** A crew that leaves so long after its shift begins has a free morning. */
const IDLE_SHOWN = 1800;

interface DayTotals {
  driving: number;
  onSite: number;
  waiting: number;
  resting: number;
}

function totals({ stops, returnTravelSeconds }: DayRoute): DayTotals {
  const sum = { driving: returnTravelSeconds, onSite: 0, waiting: 0, resting: 0 };
  let until = 0;
  for (const { kind, travelSeconds, arrivalSeconds, startSeconds, endSeconds } of stops) {
    sum.driving += travelSeconds;
    sum.waiting += startSeconds - arrivalSeconds;
    if (kind === 'break') sum.resting += endSeconds - startSeconds;
    else sum.onSite += endSeconds - startSeconds;
    // A rest in the midst of a visit lies inside its time.
    if (kind === 'break' && endSeconds <= until) sum.onSite -= endSeconds - startSeconds;
    until = Math.max(endSeconds, until);
  }
  return sum;
}

/** Whole hours around every shift and route; a plain working day where nobody goes. */
function hoursShown(routes: readonly DayRoute[]): { from: number; to: number } {
  if (routes.length === 0) return { from: 7 * HOUR, to: 17 * HOUR };
  const from = Math.min(...routes.flatMap((r) => [r.leaveSeconds, r.shiftStartSeconds]));
  const to = Math.max(...routes.flatMap((r) => [r.endSeconds, r.shiftEndSeconds]));
  const first = Math.floor(from / HOUR) * HOUR;
  return { from: first, to: Math.max(first + HOUR, Math.ceil(to / HOUR) * HOUR) };
}

const HOUR = 3600;

function hourGrid(
  from: number,
  to: number,
  x: (s: number) => number,
  field: Field,
  { units }: RoutesDay,
): Markup {
  const hours = Array.from({ length: Math.round((to - from) / HOUR) + 1 }, (_, i) => from + i * HOUR);
  const widest = Math.max(...hours.map((hour) => textWidth(clockText(hour, units), SMALL_PX))) + 8;
  const every = Math.max(1, Math.ceil((widest * (hours.length - 1)) / (field.right - field.left)));
  return join(
    hours.map((hour, i) =>
      join([
        tag('line', { x1: x(hour), x2: x(hour), y1: field.top, y2: field.bottom, stroke: RULE }),
        i % every === 0
          ? label(clockText(hour, units), x(hour), field.bottom + 16, { anchor: 'middle', size: SMALL_PX })
          : NOTHING,
      ]),
    ),
  );
}

function crewRow(
  route: DayRoute,
  row: number,
  day: RoutesDay,
  x: (s: number) => number,
  field: Field,
): Markup {
  const top = field.top + row * ROW_PX;
  const y = top + ROW_PX / 2;
  const { driving } = totals(route);
  const facts = `${distanceText(route.travelMetres, day.units)}, driving ${durationText(driving)}`;
  const name = day.routes.length === 1 ? crewWords(route) : `${crewLetter(row)} ${crewWords(route)}`;
  const lastDeparture = route.endSeconds - route.returnTravelSeconds;
  return join([
    tag('line', { x1: 14, x2: field.right, y1: top, y2: top, stroke: RULE }),
    label(name, 14, y - 2, { weight: 'bold', maxWidth: NAME_PX - 24 }),
    label(facts, 14, y + 13, { size: SMALL_PX, fill: QUIET, maxWidth: NAME_PX - 24 }),
    route.stops.length > 0 && route.leaveSeconds - route.shiftStartSeconds >= IDLE_SHOWN
      ? idleBox(x(route.shiftStartSeconds), x(route.leaveSeconds), y)
      : NOTHING,
    ...(route.onCall
      ? []
      : [shiftMark(x(route.shiftStartSeconds), y), shiftMark(x(route.shiftEndSeconds), y)]),
    ...numbered(route.stops).map(({ stop, number }) =>
      join([
        driveLine(x(stop.arrivalSeconds - stop.travelSeconds), x(stop.arrivalSeconds), y),
        waitBox(x(stop.arrivalSeconds), x(stop.startSeconds), y),
        stop.kind === 'break'
          ? breakBox(x(stop.startSeconds), x(stop.endSeconds), y)
          : siteBox(
              x(stop.startSeconds),
              x(stop.endSeconds),
              y,
              stop.kind,
              `${number ?? ''}`,
              stop.progress ?? 'ahead',
            ),
        isOffMap(stop) ? offMapMark((x(stop.startSeconds) + x(stop.endSeconds)) / 2, y) : NOTHING,
      ]),
    ),
    route.stops.length === 0 ? NOTHING : driveLine(x(lastDeparture), x(route.endSeconds), y),
  ]);
}

function shiftMark(x: number, y: number, half = 17): Markup {
  return tag('line', {
    x1: x,
    x2: x,
    y1: y - half,
    y2: y + half,
    stroke: LIMIT,
    'stroke-width': 1.6,
    'stroke-dasharray': '2 2',
  });
}

function driveLine(from: number, to: number, y: number): Markup {
  return tag('line', { x1: from, x2: to, y1: y, y2: y, stroke: INK, 'stroke-width': 2.2 });
}

function waitBox(from: number, to: number, y: number): Markup {
  if (to - from < 0.5) return NOTHING;
  return tag('rect', {
    x: from,
    y: y - 6,
    width: to - from,
    height: 12,
    fill: PAPER,
    stroke: INK,
    'stroke-width': 1,
    'stroke-dasharray': '2 2',
  });
}

/** From the start of the shift until the crew leaves. */
function idleBox(from: number, to: number, y: number): Markup {
  const words = 'nothing planned';
  return join([
    tag('rect', { x: from, y: y - 8, width: to - from, height: 16, fill: '#f3f3f3', stroke: 'none' }),
    textWidth(words, 10) + 4 < to - from
      ? label(words, (from + to) / 2, y + 3.5, { anchor: 'middle', size: 10, fill: QUIET })
      : NOTHING,
  ]);
}

function breakBox(from: number, to: number, y: number): Markup {
  const words =
    textWidth('break', 10) < to - from
      ? label('break', (from + to) / 2, y + 3.5, { anchor: 'middle', size: 10 })
      : NOTHING;
  return join([
    tag('rect', {
      x: from,
      y: y - 8,
      width: to - from,
      height: 16,
      fill: '#e4e6e8',
      stroke: QUIET,
      'stroke-width': 0.8,
    }),
    words,
  ]);
}

/** Dark at a site; white with a thick edge where a tank is filled or emptied; light once over; framed twice while there. */
function siteBox(
  from: number,
  to: number,
  y: number,
  kind: 'visit' | 'refill' | 'disposal',
  number: string,
  progress: StopProgress = 'ahead',
): Markup {
  const dark = kind === 'visit' && progress !== 'over';
  const inside = textWidth(number, 10) + 2 < to - from;
  return join([
    tag('rect', {
      x: from,
      y: y - 11,
      width: to - from,
      height: 22,
      fill: dark ? '#33475b' : progress === 'over' ? RULE : PAPER,
      stroke: dark ? PAPER : progress === 'over' ? QUIET : INK,
      'stroke-width': dark || progress === 'over' ? 0.8 : 1.8,
    }),
    progress === 'under_way'
      ? tag('rect', {
          x: from - 2,
          y: y - 14,
          width: to - from + 4,
          height: 28,
          fill: 'none',
          stroke: INK,
          'stroke-width': 2,
        })
      : NOTHING,
    label(number, (from + to) / 2, inside ? y + 4 : y - 16, {
      anchor: 'middle',
      size: 10,
      ...(inside && dark ? { fill: PAPER } : {}),
    }),
  ]);
}

/** A hollow diamond under the box of a stop that the map cannot show. */
const offMapMark = (x: number, y: number): Markup =>
  tag('path', {
    d: `M${px(x)} ${px(y + 12)}l4 4l-4 4l-4 -4Z`,
    fill: PAPER,
    stroke: INK,
    'stroke-width': 1.4,
  });

function nowLine(
  { nowSeconds, units }: RoutesDay,
  from: number,
  to: number,
  x: (s: number) => number,
  field: Field,
): Markup {
  if (nowSeconds === undefined || nowSeconds < from || nowSeconds > to) return NOTHING;
  const at = x(nowSeconds);
  return join([
    tag('line', { x1: at, x2: at, y1: field.top, y2: field.bottom + 4, stroke: PAPER, 'stroke-width': 4 }),
    tag('line', { x1: at, x2: at, y1: field.top, y2: field.bottom + 4, stroke: INK, 'stroke-width': 1.8 }),
    tag('path', { d: `M${px(at)} ${px(field.top)}l-5 -7h10Z`, fill: INK }),
    label(`now ${clockText(nowSeconds, units)}`, at, field.bottom + 28, {
      anchor: 'middle',
      size: SMALL_PX,
      weight: 'bold',
    }),
  ]);
}

const thereNow = (x: number, y: number): Markup =>
  join([
    tag('rect', { x: x - 13, y: y - 9, width: 26, height: 18, fill: 'none', stroke: INK, 'stroke-width': 2 }),
    tag('rect', { x: x - 11, y: y - 7, width: 22, height: 14, fill: '#33475b' }),
  ]);

const RUNNING_LEGEND: readonly LegendItem[] = [
  { label: 'over', sample: (x, y) => siteBox(x - 11, x + 11, y, 'visit', '1', 'over') },
  { label: 'there now', sample: (x, y) => thereNow(x, y) },
];

const offMapLegend = ({ routes }: RoutesDay): LegendItem[] =>
  routes.some(({ stops }) => stops.some(isOffMap))
    ? [{ label: 'no coordinates, not on the map', sample: (x, y) => offMapMark(x, y - 16) }]
    : [];

const LEGEND: readonly LegendItem[] = [
  { label: 'driving', sample: (x, y) => driveLine(x - 13, x + 13, y) },
  { label: 'on site, stop’s number', sample: (x, y) => siteBox(x - 11, x + 11, y, 'visit', '3') },
  { label: 'filling or emptying tanks', sample: (x, y) => siteBox(x - 11, x + 11, y, 'refill', '4') },
  { label: 'waiting', sample: (x, y) => waitBox(x - 12, x + 12, y) },
  { label: 'nothing planned', sample: (x, y) => idleBox(x - 13, x + 13, y) },
  { label: 'break', sample: (x, y) => breakBox(x - 12, x + 12, y) },
  { label: 'shift begins, ends', sample: (x, y) => shiftMark(x, y, 8) },
];
