import { crewLine } from './crewMark.js';
import { curve } from './curves.js';
import { type Field, label } from './figure.js';
import { INK, SMALL_PX } from './look.js';
import {
  depotMark,
  depots,
  type MappedMark,
  mapGround,
  pathOf,
  SCALE_ROOM_PX,
  scaleBar,
  stopMarks,
} from './mapMarks.js';
import { type MapProjection, mapProjection } from './mapProjection.js';
import { join, type Markup, tag } from './markup.js';
import type { RoutesDay } from './routesDay.js';
import type { Mark } from './spreadMarks.js';
import { textWidth } from './textWidth.js';
import { clipped } from './towns.js';

const TOWN_HEIGHT = 250;
const TOWN_GAP = 12;
const LEAST_TOWN_PX = 340;

const townsInRow = (width: number): number => Math.max(1, Math.floor(width / LEAST_TOWN_PX));

/** Height that so many enlarged maps take under the whole one. */
export const townsHeight = (count: number, width: number): number =>
  Math.ceil(count / townsInRow(width)) * (TOWN_HEIGHT + TOWN_GAP);

/** Where a town lies on the whole map, with the name of its enlarged map. */
export function townFrame(
  town: readonly MappedMark[],
  index: number,
  { place }: Pick<MapProjection, 'place'>,
): { drawn: Markup; room: Mark[] } {
  const places = town.map(({ at }) => place(at));
  const [xs, ys] = [places.map(({ x }) => x), places.map(({ y }) => y)];
  const box = {
    x: Math.min(...xs) - 7,
    y: Math.min(...ys) - 7,
    width: Math.max(...xs) - Math.min(...xs) + 14,
    height: Math.max(...ys) - Math.min(...ys) + 14,
  };
  const right = box.x + box.width;
  const words = `map ${index + 1}`;
  const wide = textWidth(words, SMALL_PX) * 1.06;
  return {
    drawn: join([
      tag('rect', { ...box, fill: 'none', stroke: INK, 'stroke-width': 1.2 }),
      label(words, right + 4, box.y + 10, { size: SMALL_PX, weight: 'bold', halo: true }),
    ]),
    room: [{ x: right + 6 + wide / 2, y: box.y + 7, width: wide, pinned: true }],
  };
}

/** Where the enlarged map stands under the whole one. */
export function townField(index: number, whole: Field): Field {
  const inRow = townsInRow(whole.right - whole.left);
  const width = (whole.right - whole.left - (inRow - 1) * TOWN_GAP) / inRow;
  const left = whole.left + (index % inRow) * (width + TOWN_GAP);
  const top = whole.bottom + TOWN_GAP + Math.floor(index / inRow) * (TOWN_HEIGHT + TOWN_GAP);
  return { left, right: left + width, top, bottom: top + TOWN_HEIGHT };
}

/** A town enlarged: its stops in full, and of each crew's line what passes through. */
export function townMap(day: RoutesDay, town: readonly MappedMark[], index: number, field: Field): Markup {
  // Room for numbers at the frame, for the name above and for the scale below.
  const inner = {
    left: field.left + 14,
    right: field.right - 14,
    top: field.top + 22,
    bottom: field.bottom - 30,
  };
  const projection = mapProjection(
    town.map(({ at }) => at),
    inner,
    LEAST_TOWN_M,
  );
  const lines = day.routes.flatMap((route, i) => {
    const path = pathOf(route).map(projection.place);
    return path.slice(1).flatMap((to, k) => {
      const part = clipped(path[k] ?? to, to, field);
      return part === null ? [] : [curve(part, crewLine(i))];
    });
  });
  const here = depots(day.routes).filter(({ at }) => {
    const { x, y } = projection.place(at);
    return x > field.left + 8 && x < field.right - 8 && y > field.top + 24 && y < field.bottom - 24;
  });
  const name = `map ${index + 1}`;
  const nameWide = textWidth(name, SMALL_PX) * 1.06;
  return join([
    mapGround(projection, day.units, field),
    ...lines,
    ...here.map(({ name: depot, at }) =>
      depotMark(depot, projection.place(at).x, projection.place(at).y, field),
    ),
    stopMarks(here, town, projection, field, [
      { x: field.left + 6 + nameWide / 2, y: field.top + 11, width: nameWide, pinned: true },
      {
        x: field.left + SCALE_ROOM_PX.width / 2,
        y: field.bottom - 17,
        width: SCALE_ROOM_PX.width,
        pinned: true,
      },
    ]),
    label(name, field.left + 6, field.top + 14, { size: SMALL_PX, weight: 'bold', halo: true }),
    scaleBar(projection, day.units, field, field.left),
  ]);
}

/** Four houses in one street still get a map of the street. */
const LEAST_TOWN_M = 200;
