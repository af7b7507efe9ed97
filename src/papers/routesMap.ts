import { crewLine, crewMark } from './crewMark.js';
import { curve } from './curves.js';
import { type Field, type Figure, figure, type LegendItem, label } from './figure.js';
import { INK, SMALL_PX } from './look.js';
import {
  depotMark,
  depots,
  dot,
  type MappedMark,
  mapGround,
  pathOf,
  SCALE_ROOM_PX,
  scaleBar,
  stopMarks,
} from './mapMarks.js';
import { type MapProjection, mapHeight, mapProjection } from './mapProjection.js';
import { join, type Markup, px, tag } from './markup.js';
import { countText, distanceText, isolated, weekdayText } from './printed.js';
import {
  crewCount,
  crewLetter,
  crewWords,
  type DayRoute,
  isOffMap,
  isRunning,
  numbered,
  type Position,
  type RoutesDay,
} from './routesDay.js';
import type { Mark } from './spreadMarks.js';
import { townField, townFrame, townMap, townsHeight } from './townMap.js';
import { townsOf } from './towns.js';

const WIDTH = 760;
const WIDEST = 1600;
/** So many stops a plain map holds; more make it wider, at the same size of letters. */
const ROOMY_STOPS = 70;
const MARGIN = 16;

/** A day's routes as a map: depots, each crew's stops in order, north up, with a scale. */
export function routesMap(day: RoutesDay): string {
  return figure(routesMapFigure(day));
}

/** Whether enlarged maps stand under the whole one. */
export const hasTowns = (day: RoutesDay): boolean =>
  planMap(day, routesWidth(day) - 2 * MARGIN).towns.length > 0;

export function routesMapFigure(day: RoutesDay): Figure {
  const visits = day.routes.flatMap(({ stops }) => stops.filter(({ kind }) => kind === 'visit'));
  const width = routesWidth(day);
  const plan = planMap(day, width - 2 * MARGIN);
  const unmapped = day.routes.flatMap(({ stops }, index) =>
    numbered(stops).flatMap(({ stop, number }) =>
      isOffMap(stop)
        ? [`${day.routes.length === 1 ? '' : crewLetter(index)}${number} ${isolated(stop.siteName)}`]
        : [],
    ),
  );
  const metres = day.routes.reduce((sum, { travelMetres }) => sum + travelMetres, 0);
  const counts = [
    countText(crewCount(day), 'crew'),
    countText(visits.length, 'visit'),
    distanceText(metres, day.units),
  ].join(' · ');
  return {
    title: `Routes of ${weekdayText(day.day)}`,
    subtitle: counts,
    summary: [`Map of routes. ${counts}.`, ...day.routes.map(routeInWords)].join(' '),
    width,
    fieldHeight: plan.wholeHeight + townsHeight(plan.towns.length, width - 2 * MARGIN),
    marginLeft: MARGIN,
    marginRight: MARGIN,
    axisHeight: 10,
    draw: (field) => drawMap(day, plan, field),
    legendColumns: 'columns',
    legend: day.routes.map((route, index) => crewLegend(route, index, day)),
    notes: [
      'Straight lines between stops, not streets. A number stands at its stop, or is tied to its dot by a thin line.',
      ...(isRunning(day) ? ['Grey: over. Thick outline: there now.'] : []),
      ...(unmapped.length === 0 ? [] : [`Not on the map, no coordinates: ${unmapped.join(', ')}.`]),
    ],
  };
}

/** Width of the map, in pixels. */
export function routesWidth({ routes }: RoutesDay): number {
  const stops = routes.reduce((sum, route) => sum + route.stops.length, 0);
  return Math.round(Math.min(WIDEST, Math.max(WIDTH, WIDTH * Math.sqrt(stops / ROOMY_STOPS))));
}

function routeInWords(route: DayRoute): string {
  const names = numbered(route.stops).flatMap(({ stop, number }) =>
    number === null ? [] : [`${number} ${isolated(stop.siteName)}`],
  );
  return `${crewWords(route)}: ${names.length === 0 ? 'no stops' : names.join(', ')}.`;
}

/** How the day is laid out: the whole on top, under it an enlarged map of each town whose numbers would not fit. */
interface MapPlan {
  wholeHeight: number;
  marks: readonly MappedMark[];
  towns: readonly (readonly MappedMark[])[];
}

function planMap(day: RoutesDay, width: number): MapPlan {
  const positions = allPositions(day);
  const marks = day.routes.flatMap(({ stops }, index) =>
    numbered(stops).flatMap(({ stop, number }): MappedMark[] => {
      if (stop.at === null || number === null) return [];
      const words = day.routes.length === 1 ? `${number}` : `${crewLetter(index)}${number}`;
      return [{ at: stop.at, index, words, progress: stop.progress ?? 'ahead' }];
    }),
  );
  const wholeHeight = mapHeight(positions, width);
  const { place } = mapProjection(positions, { left: 0, right: width, top: 0, bottom: wholeHeight });
  const towns = townsOf(
    marks.map(({ at }) => place(at)),
    width,
  ).map((town) => town.flatMap((i) => marks[i] ?? []));
  return { wholeHeight, marks, towns };
}

const allPositions = ({ routes }: RoutesDay): Position[] =>
  routes.flatMap(({ start, end, stops }) => [
    start.at,
    end.at,
    ...stops.flatMap(({ at }) => (at === null ? [] : [at])),
  ]);

function drawMap(day: RoutesDay, plan: MapPlan, field: Field): Markup[] {
  const whole = { ...field, bottom: field.top + plan.wholeHeight };
  const projection = mapProjection(allPositions(day), whole);
  const { place } = projection;
  const inTowns = new Set(plan.towns.flat());
  const frames = plan.towns.map((town, i) => townFrame(town, i, projection));
  return [
    mapGround(projection, day.units, whole),
    ...day.routes.map((route, index) => curve(pathOf(route).map(place), crewLine(index))),
    ...plan.towns.flat().map(({ at }) => dot(place(at))),
    ...frames.map(({ drawn }) => drawn),
    ...depots(day.routes).map(({ name, at }) => depotMark(name, place(at).x, place(at).y, whole)),
    stopMarks(
      depots(day.routes),
      plan.marks.filter((mark) => !inTowns.has(mark)),
      projection,
      whole,
      [
        ...cornersTaken(whole, scaleCorner(day.routes, projection, whole)),
        ...frames.flatMap(({ room }) => room),
      ],
    ),
    northAndScale(projection, day.units, whole, scaleCorner(day.routes, projection, whole)),
    ...plan.towns.map((town, i) => townMap(day, town, i, townField(i, whole))),
  ];
}

/** Left end of the scale's room: the lower left corner, or the right one where a depot or its name stands left. */
function scaleCorner(
  routes: readonly DayRoute[],
  { place }: Pick<MapProjection, 'place'>,
  field: Field,
): number {
  const isTaken = depots(routes).some(({ at }) => {
    const { x, y } = place(at);
    return x < field.left + SCALE_ROOM_PX.width && y > field.bottom - SCALE_ROOM_PX.height;
  });
  return isTaken ? field.right - SCALE_ROOM_PX.width : field.left;
}

/** The scale stands in a lower corner, north at the upper right. */
function cornersTaken({ right, top, bottom }: Field, scaleLeft: number): Mark[] {
  const { width } = SCALE_ROOM_PX;
  return [
    { x: scaleLeft + width / 2, y: bottom - 17, width, pinned: true },
    { x: right - 18, y: top + 18, width: 26, pinned: true },
    { x: right - 18, y: top + 36, width: 26, pinned: true },
  ];
}

function northAndScale(
  { pixelsPerMetre }: MapProjection,
  units: RoutesDay['units'],
  field: Field,
  scaleLeft: number,
): Markup {
  const north = { x: field.right - 18, y: field.top + 14 };
  return join([
    scaleBar({ pixelsPerMetre }, units, field, scaleLeft),
    tag('path', { d: `M${px(north.x)} ${px(north.y)}l6 16l-6 -4l-6 4Z`, fill: INK }),
    label('N', north.x, north.y + 29, { anchor: 'middle', size: SMALL_PX, weight: 'bold', halo: true }),
  ]);
}

function crewLegend(route: DayRoute, index: number, day: RoutesDay): LegendItem {
  const letter = crewLetter(index);
  const visits = route.stops.filter(({ kind }) => kind === 'visit').length;
  return {
    label: `${crewWords(route)}: ${countText(visits, 'visit')}, ${distanceText(route.travelMetres, day.units)}`,
    sample: (x, y) =>
      join([
        tag('line', { x1: x - 15, x2: x + 15, y1: y, y2: y, ...crewLine(index) }),
        crewMark(index, day.routes.length === 1 ? '1' : letter, x, y),
      ]),
  };
}
