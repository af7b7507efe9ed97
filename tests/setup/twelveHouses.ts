import type { ClientBase, LineRow, ReadingRow, SiteRow } from '../../src/actions/clientBase.js';

const KINDS = ['footing_drain', 'sump_discharge'] as const;

/** Twelve houses with a footing drain and a discharge, cleaned every 80 days at rates that differ. */
export function twelveHouses(): ClientBase {
  const houses = Array.from({ length: 12 }, (_, i) => i);
  const sites = houses.map(
    (i): SiteRow => ({
      siteId: `S${i}`,
      client: `Client ${i}`,
      address: `${i} Marsh Gate`,
      town: 'Brindle',
      latitude: 44.6,
      longitude: -90.3,
      access: 'anytime',
      area: i < 6 ? 'Brindle' : 'Oxmoor',
      basement: 'finished',
      clientPhone: null,
      clientEmail: null,
      builder: null,
      builtOn: null,
      accessNotes: null,
      tap: 'yes',
      postalCode: null,
      lastCleaned: null,
    }),
  );
  const lines = houses.flatMap((i) =>
    KINDS.map(
      (kind): LineRow => ({
        lineId: `${kind}-${i}`,
        siteId: `S${i}`,
        kind,
        material: 'pvc',
        boreMm: 100,
        lengthM: 20,
        installedOn: '2025-06-01',
        ferrousIronMgL: 0.1,
        threshold: null,
        outlet: 'daylight',
        drainsTo: null,
        condition: 'sound',
        perforated: null,
        wrapped: null,
        slopePct: 1,
      }),
    ),
  );
  const readings = lines.flatMap(({ lineId }, i) =>
    [4, 3, 2, 1].map(
      (k): ReadingRow => ({
        lineId,
        observedAt: new Date(Date.parse('2026-09-20T14:00:00Z') - k * 80 * 86_400_000).toISOString(),
        phase: 'before_cleaning',
        method: 'camera',
        occlusion: 0.08 + (i % 12) / 20,
        plugged: false,
        plugCause: null,
        crewId: null,
        deposit: 'granular',
        note: null,
        distanceM: null,
      }),
    ),
  );
  return { sites, lines, readings, crews: [] };
}
