/** Stops that lie too near to each other for their numbers; indices into the places given. */
export type Town = readonly number[];

/** Nearer than about a number's width. */
const NEAR_PX = 30;
const LEAST_STOPS = 4;
/** Wider than this a group is no town but a valley: enlarging it gains little. */
const WIDEST_SHARE = 0.34;

/**
 * Groups of places, each linked to the next by less than a number's width, that a picture of their own tells apart.
 *
 * @param places In pixels of the map, whose width is given.
 */
export function townsOf(places: readonly { x: number; y: number }[], mapWidth: number): Town[] {
  const townOf = places.map((_, i) => i);
  const root = (i: number): number => (townOf[i] === i ? i : root(townOf[i] ?? i));
  places.forEach((a, i) => {
    places.slice(0, i).forEach((b, j) => {
      if (Math.hypot(a.x - b.x, a.y - b.y) < NEAR_PX) townOf[root(i)] = root(j);
    });
  });
  const groups = new Map<number, number[]>();
  places.forEach((_, i) => {
    groups.set(root(i), [...(groups.get(root(i)) ?? []), i]);
  });
  const extent = (town: Town, axis: 'x' | 'y'): number => {
    const values = town.map((i) => places[i]?.[axis] ?? 0);
    return Math.max(...values) - Math.min(...values);
  };
  return [...groups.values()].filter(
    (town) =>
      town.length >= LEAST_STOPS && Math.max(extent(town, 'x'), extent(town, 'y')) < WIDEST_SHARE * mapWidth,
  );
}

/** The part of a stretch within a box; null: it passes by. Liang & Barsky 1984, ACM Trans. Graphics 3(1), 1–22. */
export function clipped(
  a: { x: number; y: number },
  b: { x: number; y: number },
  box: { left: number; right: number; top: number; bottom: number },
): [{ x: number; y: number }, { x: number; y: number }] | null {
  const [dx, dy] = [b.x - a.x, b.y - a.y];
  let [from, to] = [0, 1];
  for (const [towards, room] of [
    [-dx, a.x - box.left],
    [dx, box.right - a.x],
    [-dy, a.y - box.top],
    [dy, box.bottom - a.y],
  ] as const) {
    if (towards === 0 && room < 0) return null;
    if (towards < 0) from = Math.max(from, room / towards);
    if (towards > 0) to = Math.min(to, room / towards);
  }
  const at = (share: number) => ({ x: a.x + share * dx, y: a.y + share * dy });
  return from > to ? null : [at(from), at(to)];
}
