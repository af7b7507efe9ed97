import type { ClientBase } from '../../src/actions/clientBase.js';
import { bookLine, bookSite, readingsBeforeCleans } from './bookRows.js';

const KINDS = ['footing_drain', 'sump_discharge'] as const;

/** Twelve houses with a footing drain and a discharge, cleaned every 80 days at rates that differ. */
export function twelveHouses(): ClientBase {
  const houses = Array.from({ length: 12 }, (_, i) => i);
  const sites = houses.map((i) => bookSite(i, { area: i < 6 ? 'Brindle' : 'Oxmoor' }));
  const lines = houses.flatMap((i) =>
    KINDS.map((kind) => bookLine({ lineId: `${kind}-${i}`, siteId: `S${i}`, kind, ferrousIronMgL: 0.1 })),
  );
  const readings = lines.flatMap(({ lineId }, i) =>
    readingsBeforeCleans(lineId, '2026-07-02T14:00:00Z', {
      occlusion: 0.08 + (i % 12) / 20,
      deposit: 'granular',
    }),
  );
  return { sites, lines, readings, crews: [] };
}

/** What a camera found before six cleans, shares of the bore: fouling that comes in bursts, so that nobody can tell how soon. */
const BURSTS = [0.05, 0.5, 0.1, 0.3, 0.02, 0.2];

/** The same houses, fouling in bursts, and let go to 65 % before they are called too full: how sure one wants to be sets their dates. */
export function burstingHouses(): ClientBase {
  const base = twelveHouses();
  const lines = base.lines.map((line) => ({ ...line, threshold: 0.65 }));
  const readings = lines.flatMap(({ lineId }, i) =>
    readingsBeforeCleans(lineId, '2026-09-20T14:00:00Z', { count: BURSTS.length, deposit: 'granular' }).map(
      (reading, k) => ({ ...reading, occlusion: BURSTS[(k + i) % BURSTS.length] ?? null }),
    ),
  );
  return { ...base, lines, readings };
}
