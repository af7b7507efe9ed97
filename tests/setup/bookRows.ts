import type { LineRow, ReadingRow, SiteRow } from '../../src/actions/clientBase.js';

/** House number `i` of a test's book: only what a test says of it differs. */
export function bookSite(i: number, said: Partial<SiteRow> = {}): SiteRow {
  return {
    siteId: `S${i}`,
    client: `Client ${i}`,
    address: `${i} Marsh Gate`,
    town: 'Brindle',
    latitude: 44.6,
    longitude: -90.3,
    access: 'anytime',
    area: 'Brindle',
    basement: 'finished',
    clientPhone: null,
    clientEmail: null,
    builder: null,
    builtOn: null,
    accessNotes: null,
    tap: 'yes',
    postalCode: null,
    lastCleaned: null,
    ...said,
  };
}

/** A sound line of 20 m of smooth 100 mm pipe. */
export function bookLine({
  lineId,
  siteId,
  kind,
  ...said
}: Pick<LineRow, 'lineId' | 'siteId' | 'kind'> & Partial<LineRow>): LineRow {
  return {
    lineId,
    siteId,
    kind,
    material: 'pvc',
    boreMm: 100,
    lengthM: 20,
    installedOn: '2025-06-01',
    ferrousIronMgL: 3,
    threshold: null,
    outlet: 'daylight',
    drainsTo: null,
    condition: 'sound',
    perforated: null,
    wrapped: null,
    slopePct: 1,
    ...said,
  };
}

/** What a camera found before `count` cleans, 80 days apart, the last at `last`; oldest first. */
export function readingsBeforeCleans(
  lineId: string,
  last: string,
  { count = 4, ...said }: Partial<ReadingRow> & { count?: number },
): ReadingRow[] {
  return Array.from({ length: count }, (_, k) => ({
    lineId,
    observedAt: new Date(Date.parse(last) - (count - 1 - k) * 80 * 86_400_000).toISOString(),
    phase: 'before_cleaning',
    method: 'camera',
    occlusion: 0.2,
    plugged: false,
    plugCause: null,
    crewId: null,
    deposit: 'gel',
    note: null,
    distanceM: null,
    ...said,
  }));
}
