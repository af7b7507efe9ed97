import { crewMark, markWidth } from './crewMark.js';
import { type Field, label } from './figure.js';
import { INK, PAPER, QUIET, RULE, SMALL_PX } from './look.js';
import { type MapProjection, scaleLength } from './mapProjection.js';
import { join, type Markup, px, tag } from './markup.js';
import { isolated } from './printed.js';
import type { DayRoute, Depot, Position, RoutesDay, StopProgress } from './routesDay.js';
import { type Mark, spreadMarks } from './spreadMarks.js';
import { textWidth } from './textWidth.js';

/** A stop that can be drawn, with what is written at it. */
export interface MappedMark {
  at: Position;
  index: number;
  words: string;
  progress: StopProgress;
}

export const pathOf = ({ start, end, stops }: DayRoute): Position[] =>
  stops.length === 0 ? [] : [start.at, ...stops.flatMap(({ at }) => (at === null ? [] : [at])), end.at];

export const dot = ({ x, y }: { x: number; y: number }): Markup =>
  tag('circle', { cx: x, cy: y, r: 2, fill: INK });

export function stopMarks(
  depotsShown: readonly Depot[],
  marked: readonly MappedMark[],
  { place }: Pick<MapProjection, 'place'>,
  field: Field,
  taken: readonly Mark[],
): Markup {
  const marks = marked.map((mark) => ({
    ...mark,
    ...place(mark.at),
    width: markWidth(mark.words) + 6,
    pinned: false,
  }));
  const inTheWay = depotsShown.flatMap((depot) => depotRoom(depot, place(depot.at), field));
  const placed = spreadMarks([...marks, ...inTheWay, ...taken], field);
  const tied = marks.map((mark, i) => ({ ...mark, to: placed[i] ?? mark }));
  return join([
    ...tied.map(({ x, y, to }) =>
      join([
        tag('line', { x1: x, y1: y, x2: to.x, y2: to.y, stroke: QUIET, 'stroke-width': 0.8 }),
        dot({ x, y }),
      ]),
    ),
    ...tied.map(({ index, words, to, progress }) => crewMark(index, words, to.x, to.y, progress)),
  ]);
}

export const SCALE_ROOM_PX = { width: 160, height: 50 };

/** Each depot once, however many crews start or end there. */
export function depots(routes: readonly DayRoute[]): Depot[] {
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

export function depotMark(name: string, x: number, y: number, field: Field): Markup {
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
export function mapGround(
  { pixelsPerMetre }: MapProjection,
  units: RoutesDay['units'],
  field: Field,
): Markup {
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

export function scaleBar(
  { pixelsPerMetre }: Pick<MapProjection, 'pixelsPerMetre'>,
  units: RoutesDay['units'],
  field: Field,
  scaleLeft: number,
): Markup {
  const { metres, words } = scaleLength(pixelsPerMetre, GRID_PX, units);
  const length = metres * pixelsPerMetre;
  const [x, y] = [scaleLeft + 12, field.bottom - 12];
  return join([
    tag('rect', { x: x - 6, y: y - 20, width: length + 14, height: 26, fill: PAPER, opacity: 0.85 }),
    tag('path', {
      d: `M${px(x)} ${px(y - 4)}v4h${px(length)}v-4`,
      fill: 'none',
      stroke: INK,
      'stroke-width': 1.6,
    }),
    label(words, x + length / 2, y - 5, { anchor: 'middle', size: SMALL_PX }),
  ]);
}
