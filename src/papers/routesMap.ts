import { crewLine, crewMark, markWidth } from './crewMark.js';
import { curve } from './curves.js';
import { type Field, type Figure, figure, type LegendItem, label } from './figure.js';
import { INK, PAPER, QUIET, RULE, SMALL_PX } from './look.js';
import { type MapProjection, mapHeight, mapProjection, scaleLength } from './mapProjection.js';
import { join, type Markup, px, tag } from './markup.js';
import { countText, distanceText, isolated, weekdayText } from './printed.js';
import {
  crewLetter,
  type DayRoute,
  type Depot,
  numbered,
  type Position,
  type RoutesDay,
} from './routesDay.js';
import { type Mark, spreadMarks } from './spreadMarks.js';
import { textWidth } from './textWidth.js';

const WIDTH = 760;
const WIDEST = 1600;
/** So many stops a plain map holds; more make it wider, at the same size of letters. */
const ROOMY_STOPS = 70;
const MARGIN = 16;

/** A day's routes as a map: depots, each crew's stops in order, north up, with a scale. */
export function routesMap(day: RoutesDay): string {
  return figure(routesMapFigure(day));
}

export function routesMapFigure(day: RoutesDay): Figure {
  const positions = day.routes.flatMap(({ start, end, stops }) => [
    start.at,
    end.at,
    ...stops.flatMap(({ at }) => (at === null ? [] : [at])),
  ]);
  const visits = day.routes.flatMap(({ stops }) => stops.filter(({ kind }) => kind === 'visit'));
  const unmapped = day.routes.flatMap(({ stops }) =>
    stops.filter(({ kind, at }) => kind !== 'break' && at === null),
  );
  const width = routesWidth(day);
  const metres = day.routes.reduce((sum, { travelMetres }) => sum + travelMetres, 0);
  const counts = [
    countText(day.routes.length, 'crew'),
    countText(visits.length, 'visit'),
    distanceText(metres, day.units),
  ].join(' · ');
  return {
    title: `Routes of ${weekdayText(day.day)}`,
    subtitle: counts,
    summary: [`Map of routes. ${counts}.`, ...day.routes.map(routeInWords)].join(' '),
    width,
    fieldHeight: mapHeight(positions, width - 2 * MARGIN),
    marginLeft: MARGIN,
    marginRight: MARGIN,
    axisHeight: 10,
    draw: (field) => drawMap(day, positions, field),
    legendColumns: 'columns',
    legend: day.routes.map((route, index) => crewLegend(route, index, day)),
    notes: [
      'Straight lines between stops, not streets. A number stands at its stop, or is tied to its dot by a thin line.',
      ...(unmapped.length === 0
        ? []
        : [
            `Not on the map, no coordinates: ${unmapped.map(({ siteName }) => isolated(siteName)).join(', ')}.`,
          ]),
    ],
  };
}

/** Width of the map, in pixels. */
export function routesWidth({ routes }: RoutesDay): number {
  const stops = routes.reduce((sum, route) => sum + route.stops.length, 0);
  return Math.round(Math.min(WIDEST, Math.max(WIDTH, WIDTH * Math.sqrt(stops / ROOMY_STOPS))));
}

function routeInWords({ crewName, stops }: DayRoute): string {
  const names = numbered(stops).flatMap(({ stop, number }) =>
    number === null ? [] : [`${number} ${isolated(stop.siteName)}`],
  );
  return `${isolated(crewName)}: ${names.length === 0 ? 'no stops' : names.join(', ')}.`;
}

function drawMap(day: RoutesDay, positions: readonly Position[], field: Field): Markup[] {
  const projection = mapProjection(positions, field);
  const { place } = projection;
  const lines = day.routes.map(({ start, end, stops }, index) =>
    curve(
      stops.length === 0
        ? []
        : [start.at, ...stops.flatMap(({ at }) => (at === null ? [] : [at])), end.at].map(place),
      crewLine(index),
    ),
  );
  return [
    mapGround(projection, day.units, field),
    ...lines,
    ...depots(day.routes).map(({ name, at }) => depotMark(name, place(at).x, place(at).y, field)),
    stopMarks(day.routes, projection, field),
    northAndScale(projection, day.units, field, scaleCorner(day.routes, projection, field)),
  ];
}

function stopMarks(
  routes: readonly DayRoute[],
  { place }: Pick<MapProjection, 'place'>,
  field: Field,
): Markup {
  const marks = routes.flatMap(({ stops }, index) =>
    numbered(stops).flatMap(({ stop, number }) => {
      if (stop.at === null || number === null) return [];
      const words = routes.length === 1 ? `${number}` : `${crewLetter(index)}${number}`;
      return [{ ...place(stop.at), index, words, width: markWidth(words) + 6, pinned: false }];
    }),
  );
  const inTheWay = depots(routes).flatMap((depot) => depotRoom(depot, place(depot.at), field));
  const placed = spreadMarks(
    [...marks, ...inTheWay, ...cornersTaken(field, scaleCorner(routes, { place }, field))],
    field,
  );
  const tied = marks.map((mark, i) => ({ ...mark, to: placed[i] ?? mark }));
  return join([
    ...tied.map(({ x, y, to }) =>
      join([
        tag('line', { x1: x, y1: y, x2: to.x, y2: to.y, stroke: QUIET, 'stroke-width': 0.8 }),
        tag('circle', { cx: x, cy: y, r: 2, fill: INK }),
      ]),
    ),
    ...tied.map(({ index, words, to }) => crewMark(index, words, to.x, to.y)),
  ]);
}

const SCALE_ROOM_PX = { width: 160, height: 50 };

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

/** Each depot once, however many crews start or end there. */
function depots(routes: readonly DayRoute[]): Depot[] {
  const all = routes.flatMap(({ start, end }) => [start, end]);
  const key = ({ name, at }: Depot): string => `${name} ${at.latitude} ${at.longitude}`;
  return [...new Map(all.map((depot) => [key(depot), depot])).values()];
}

/** Names stand toward the middle of the map. */
function isLeft(x: number, field: Field): boolean {
  return x < (field.left + field.right) / 2;
}

/** The room a depot and its name take, which no stop's number may cover. */
function depotRoom({ name }: Depot, { x, y }: { x: number; y: number }, field: Field): Mark[] {
  const wide = Math.min(DEPOT_NAME_PX, textWidth(name, SMALL_PX) * 1.06);
  const middle = isLeft(x, field) ? x + 12 + wide / 2 : x - 12 - wide / 2;
  return [
    { x, y: y - 1, width: 18, pinned: true },
    { x: middle, y: y + 14, width: wide, pinned: true },
  ];
}

const DEPOT_NAME_PX = 190;

function depotMark(name: string, x: number, y: number, field: Field): Markup {
  const left = isLeft(x, field);
  return join([
    tag('path', {
      d: `M${px(x - 8)} ${px(y + 7)}v-9l8 -7l8 7v9Z`,
      fill: INK,
      stroke: PAPER,
      'stroke-width': 1,
    }),
    label(isolated(name), left ? x + 12 : x - 12, y + 18, {
      size: SMALL_PX,
      weight: 'bold',
      halo: true,
      maxWidth: DEPOT_NAME_PX,
      ...(left ? {} : { anchor: 'end' as const }),
    }),
  ]);
}

/** A frame and a grid whose squares are one scale length wide. */
function mapGround({ pixelsPerMetre }: MapProjection, units: RoutesDay['units'], field: Field): Markup {
  const step = scaleLength(pixelsPerMetre, GRID_PX, units).metres * pixelsPerMetre;
  const along = (from: number, to: number): number[] =>
    Array.from({ length: Math.max(0, Math.ceil((to - from) / step) - 1) }, (_, i) => from + (i + 1) * step);
  return join([
    ...along(field.left, field.right).map((x) =>
      tag('line', { x1: x, x2: x, y1: field.top, y2: field.bottom, stroke: RULE, 'stroke-width': 0.7 }),
    ),
    ...along(field.top, field.bottom).map((y) =>
      tag('line', { x1: field.left, x2: field.right, y1: y, y2: y, stroke: RULE, 'stroke-width': 0.7 }),
    ),
    tag('rect', {
      x: field.left,
      y: field.top,
      width: field.right - field.left,
      height: field.bottom - field.top,
      fill: 'none',
      stroke: QUIET,
    }),
  ]);
}

const GRID_PX = 130;

function northAndScale(
  { pixelsPerMetre }: MapProjection,
  units: RoutesDay['units'],
  field: Field,
  scaleLeft: number,
): Markup {
  const { metres, words } = scaleLength(pixelsPerMetre, GRID_PX, units);
  const length = metres * pixelsPerMetre;
  const [x, y] = [scaleLeft + 12, field.bottom - 12];
  const north = { x: field.right - 18, y: field.top + 14 };
  return join([
    tag('rect', { x: x - 6, y: y - 20, width: length + 14, height: 26, fill: PAPER, opacity: 0.85 }),
    tag('path', {
      d: `M${px(x)} ${px(y - 4)}v4h${px(length)}v-4`,
      fill: 'none',
      stroke: INK,
      'stroke-width': 1.6,
    }),
    label(words, x + length / 2, y - 5, { anchor: 'middle', size: SMALL_PX }),
    tag('path', { d: `M${px(north.x)} ${px(north.y)}l6 16l-6 -4l-6 4Z`, fill: INK }),
    label('N', north.x, north.y + 29, { anchor: 'middle', size: SMALL_PX, weight: 'bold', halo: true }),
  ]);
}

function crewLegend({ crewName, stops, travelMetres }: DayRoute, index: number, day: RoutesDay): LegendItem {
  const letter = crewLetter(index);
  const visits = stops.filter(({ kind }) => kind === 'visit').length;
  return {
    label: `${isolated(crewName)}: ${countText(visits, 'visit')}, ${distanceText(travelMetres, day.units)}`,
    sample: (x, y) =>
      join([
        tag('line', { x1: x - 15, x2: x + 15, y1: y, y2: y, ...crewLine(index) }),
        crewMark(index, day.routes.length === 1 ? '1' : letter, x, y),
      ]),
  };
}
