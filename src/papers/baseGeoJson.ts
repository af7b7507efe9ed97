import type { IsoDate } from '../domain/calendar/isoDate.js';

/** RFC 7946: a place nobody has put on the map has no geometry. */
export interface PlaceFeature {
  type: 'Feature';
  id: string;
  geometry: { type: 'Point'; coordinates: [number, number] } | null;
  properties: Record<string, unknown>;
}

/** `past_limit`: likelier than not past the action limit within 30 days; `due`: its day has come; `undated`: no trend. */
export const STANDINGS = ['past_limit', 'due', 'not_due', 'undated'] as const;
export type Standing = (typeof STANDINGS)[number];

/** How a line, or the worst of a site's lines, stands on a day. */
export function standingOf(
  { dueOn, actionChance }: { dueOn: IsoDate | null; actionChance: number | null },
  today: IsoDate,
  overLimitChance: number,
): Standing {
  if (actionChance !== null && actionChance >= overLimitChance) return 'past_limit';
  if (dueOn === null) return 'undated';
  return dueOn <= today ? 'due' : 'not_due';
}

/** Places to about 0.1 m: more says more than anybody measured. */
const DECIMALS = 6;
const rounded = (degrees: number): number => Number(degrees.toFixed(DECIMALS));

export const placeFeature = (
  id: string,
  at: { latitude: number; longitude: number } | null,
  properties: Record<string, unknown>,
): PlaceFeature => ({
  type: 'Feature',
  id,
  geometry: at && { type: 'Point', coordinates: [rounded(at.longitude), rounded(at.latitude)] },
  properties,
});
