import { z } from 'zod';

/** RFC 7946, word for word where it says MUST; nothing of ours. */
const position = z
  .tuple([z.number().min(-180).max(180), z.number().min(-90).max(90)])
  .rest(z.number())
  .refine((numbers) => numbers.length <= 3, 'three numbers at most (3.1.1)');
const line = z.array(position).min(2);
const ring = z
  .array(position)
  .min(4)
  .refine(
    (places) => JSON.stringify(places[0]) === JSON.stringify(places.at(-1)),
    'a ring is closed (3.1.6)',
  );
const simple = [
  z.object({ type: z.literal('Point'), coordinates: position }),
  z.object({ type: z.literal('MultiPoint'), coordinates: z.array(position) }),
  z.object({ type: z.literal('LineString'), coordinates: line }),
  z.object({ type: z.literal('MultiLineString'), coordinates: z.array(line) }),
  z.object({ type: z.literal('Polygon'), coordinates: z.array(ring) }),
  z.object({ type: z.literal('MultiPolygon'), coordinates: z.array(z.array(ring)) }),
] as const;
/** Section 7.1: members of other types must not be there. */
const without =
  (...names: string[]) =>
  (value: object) =>
    names.every((name) => !(name in value));
const geometry = z
  .looseObject({})
  .refine(without('geometry', 'properties', 'features'), 'a geometry has no members of features (7.1)')
  .pipe(z.union(simple));
const feature = z
  .looseObject({
    type: z.literal('Feature'),
    id: z.union([z.string(), z.number()]).optional(),
    geometry: geometry.nullable(),
    properties: z.record(z.string(), z.unknown()).nullable(),
  })
  .refine(without('coordinates', 'geometries', 'features'), 'a feature has no members of geometries (7.1)');
export const featureCollection = z
  .looseObject({ type: z.literal('FeatureCollection'), features: z.array(feature) })
  .refine(
    without('coordinates', 'geometries', 'geometry', 'properties', 'crs'),
    'a collection holds features alone (7.1, 4)',
  );
