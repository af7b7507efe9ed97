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
