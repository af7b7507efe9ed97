import type { TravelMatrix } from '../routing/problem.js';

/** Roads are longer than the great circle by about this much, driven at this speed (common practice, no source). */
const DETOUR = 1.3;
const KM_PER_HOUR = 50;
const EARTH_M = 6_371_000;

export interface Point {
  latitude: number;
  longitude: number;
}

/** Great-circle travel between all pairs, row-major: whole seconds and metres. */
export function greatCircleTravel(points: readonly Point[]): {
  size: number;
  seconds: Int32Array;
  metres: Int32Array;
} {
  const size = points.length;
  const metres = new Int32Array(size * size);
  const seconds = new Int32Array(size * size);
  const rad = Math.PI / 180;
  points.forEach((a, i) => {
    points.forEach((b, j) => {
      const h =
        Math.sin(((b.latitude - a.latitude) * rad) / 2) ** 2 +
        Math.cos(a.latitude * rad) *
          Math.cos(b.latitude * rad) *
          Math.sin(((b.longitude - a.longitude) * rad) / 2) ** 2;
      const road = 2 * EARTH_M * Math.asin(Math.min(1, Math.sqrt(h))) * DETOUR;
      metres[i * size + j] = Math.round(road);
      seconds[i * size + j] = Math.round((road / 1000 / KM_PER_HOUR) * 3600);
    });
  });
  return { size, seconds, metres };
}

/**
 * The same travel with no drive between two places shorter than `leastSeconds`: on a street of neighbours it is
 * getting in and parking that takes the time. Places that are one (no metres between them) stay together, unless
 * both are known to be different sites.
 *
 * @param sites Id of the site at each place; null: a depot, or where a crew is.
 */
export function withLeastLegs(
  matrix: TravelMatrix,
  sites: readonly (string | null)[],
  leastSeconds: number,
): TravelMatrix {
  const { size, metres } = matrix;
  const seconds = matrix.seconds.slice();
  for (let from = 0; from < size; from++) {
    for (let to = 0; to < size; to++) {
      const arc = from * size + to;
      const differ = sites[from] !== null && sites[to] !== null && sites[from] !== sites[to];
      if (from === to || (metres[arc] === 0 && !differ)) continue;
      if (seconds[arc]! < leastSeconds) seconds[arc] = leastSeconds;
    }
  }
  return { size, seconds, metres };
}
