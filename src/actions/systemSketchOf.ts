import type { UnitSystem } from '../domain/units/quantity.js';
import type { LineKind, Material } from '../domain/words.js';
import { placeAlong } from '../domain/work/accessPlace.js';
import type { SketchedLine, SketchedPoint, SystemSketch } from '../papers/systemSketchData.js';
import type { Stores } from './house.js';
import type { Row } from './ports.js';

const number = (value: unknown): number | null => (typeof value === 'number' ? value : null);

/** A system with its lines and access points, as its sketch needs it. */
export async function systemSketchOf(stores: Stores, system: Row, units: UnitSystem): Promise<SystemSketch> {
  const of = (table: string, sort: string) =>
    stores.rows.all(
      table,
      [
        {
          column: table === 'access_point' ? 'site_id' : 'system_id',
          is: '=',
          value: table === 'access_point' ? system['site_id'] : system['id'],
        },
        { column: 'archived_on', is: 'null' },
      ],
      sort,
    );
  const [lines, pits, points] = [
    await of('line', 'name'),
    await of('pit', 'id'),
    await of('access_point', 'id'),
  ];
  const site = (await stores.rows.get('site', String(system['site_id']))) ?? {};
  const names = new Map(lines.map((line) => [line['id'], String(line['name'])]));
  const pit = pits[0] ?? null;
  return {
    name: String(system['name']),
    address: String(site['address']),
    units,
    pit: pit && {
      place: pit['place'] as string | null,
      depthMm: number(pit['depth_mm']),
      diameterMm: number(pit['diameter_mm']),
      points: points.filter((point) => point['pit_id'] === pit['id']).map((point) => pointOf(point, null)),
    },
    lines: lines.map((line) => lineOf(line, pit, names, points)),
  };
}

function lineOf(
  line: Row,
  pit: Row | null,
  names: Map<unknown, string>,
  points: readonly Row[],
): SketchedLine {
  const lengthM = number(line['length_m']);
  return {
    name: String(line['name']),
    kind: line['kind'] as LineKind,
    material: line['main_material'] as Material,
    boreMm: number(line['main_bore_mm']),
    lengthM,
    drainsTo: drainsTo(line, names),
    isDischarge: pit !== null && pit['discharge_line_id'] === line['id'],
    unconfirmed: line['unconfirmed'] === true,
    points: points.filter((point) => point['line_id'] === line['id']).map((point) => pointOf(point, lengthM)),
  };
}

function drainsTo(line: Row, names: Map<unknown, string>): SketchedLine['drainsTo'] {
  switch (line['drains_to']) {
    case 'pit':
      return { to: 'pit' };
    case 'line':
      return { to: 'line', name: names.get(line['drains_to_line_id']) ?? 'a line of another system' };
    case 'outlet':
      return line['outlet'] === 'unknown'
        ? null
        : { to: 'outlet', words: String(line['outlet']).replaceAll('_', ' ') };
    default:
      return null;
  }
}

const pointOf = (point: Row, lengthM: number | null): SketchedPoint => ({
  kind: String(point['kind']),
  place: String(point['place']),
  atM:
    lengthM === null
      ? null
      : placeAlong(
          {
            kind: String(point['kind']),
            distanceM: number(point['distance_m']),
            distanceFrom: point['distance_from'] as string | null,
          },
          lengthM,
        ),
  unconfirmed: point['unconfirmed'] === true,
});
