import type { UnitSystem } from '../domain/units/quantity.js';
import type { Field } from './figure.js';
import { METRES_PER_MILE } from './printed.js';
import type { Position } from './routesDay.js';

export interface MapProjection {
  place: (at: Position) => { x: number; y: number };
  pixelsPerMetre: number;
}

/** Mean radius of the Earth, IUGG. */
const EARTH_M = 6_371_008.8;
/** A lone house still gets a map of its surroundings. */
const LEAST_SPAN_M = 600;

/** Height a map of these places wants at the width it gets, within bounds a page can take. */
export function mapHeight(positions: readonly Position[], width: number): number {
  const { across, up } = extent(positions);
  return Math.min(0.77 * width, Math.max(280, (width * up) / across));
}

/**
 * North up, one scale in both directions (equirectangular about the middle latitude: true within a per mille over
 * a crew's day). Places on both sides of the date line stay together.
 */
export function mapProjection(
  positions: readonly Position[],
  field: Field,
  leastSpanM = LEAST_SPAN_M,
): MapProjection {
  const box = extent(positions, leastSpanM);
  const pixelsPerMetre = Math.min(
    (field.right - field.left) / box.across,
    (field.bottom - field.top) / box.up,
  );
  const middle = { x: (field.left + field.right) / 2, y: (field.top + field.bottom) / 2 };
  return {
    pixelsPerMetre,
    place: (at) => {
      const metres = box.metres(at);
      return {
        x: middle.x + (metres.east - box.middleEast) * pixelsPerMetre,
        y: middle.y - (metres.north - box.middleNorth) * pixelsPerMetre,
      };
    },
  };
}

function extent(positions: readonly Position[], leastSpanM = LEAST_SPAN_M) {
  const home = positions[0] ?? { latitude: 0, longitude: 0 };
  const latitudes = positions.map(({ latitude }) => latitude);
  const middleLatitude = positions.length === 0 ? 0 : (Math.min(...latitudes) + Math.max(...latitudes)) / 2;
  const narrowing = Math.cos((middleLatitude * Math.PI) / 180);
  const metres = ({ latitude, longitude }: Position): { east: number; north: number } => {
    const turn = ((((longitude - home.longitude + 180) % 360) + 360) % 360) - 180;
    return {
      east: EARTH_M * narrowing * ((turn * Math.PI) / 180),
      north: EARTH_M * (((latitude - home.latitude) * Math.PI) / 180),
    };
  };
  const points = positions.map(metres);
  const range = (values: readonly number[]): [number, number] =>
    values.length === 0 ? [0, 0] : [Math.min(...values), Math.max(...values)];
  const [west, east] = range(points.map((point) => point.east));
  const [south, north] = range(points.map((point) => point.north));
  return {
    metres,
    middleEast: (west + east) / 2,
    middleNorth: (south + north) / 2,
    // An eighth more on each axis keeps marks off the frame.
    across: Math.max(leastSpanM, (east - west) * 1.14),
    up: Math.max(leastSpanM, (north - south) * 1.14),
  };
}

/** A round length that is about `wantedPx` wide on the map, as printed. */
export function scaleLength(
  pixelsPerMetre: number,
  wantedPx: number,
  units: UnitSystem,
): { metres: number; words: string } {
  const unitM = units === 'metric' ? 1000 : METRES_PER_MILE;
  const wanted = wantedPx / pixelsPerMetre / unitM;
  const power = 10 ** Math.floor(Math.log10(wanted));
  const step = [5, 2, 1].find((each) => each * power <= wanted) ?? 1;
  const length = Number((step * power).toPrecision(3));
  if (units === 'metric' && length < 1) return { metres: length * 1000, words: `${length * 1000}\u00A0m` };
  return { metres: length * unitM, words: `${length}\u00A0${units === 'metric' ? 'km' : 'mi'}` };
}
