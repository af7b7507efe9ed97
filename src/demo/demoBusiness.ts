import type { ClientBase, LineRow, ReadingRow } from '../actions/clientBase.js';
import { addDays, type IsoDate } from '../domain/calendar/isoDate.js';
import { Chance } from './demoChance.js';
import { demoCrews } from './demoCrews.js';
import { type DemoExtras, demoExtras } from './demoExtras.js';
import { demoHistory } from './demoHistory.js';
import { type DemoSystem, demoSystems } from './demoLines.js';
import { withPlugs } from './demoPlugs.js';
import { demoSites } from './demoSites.js';
import { type DemoVisit, demoVisits } from './demoVisits.js';

export const DEMO_NAME = 'Alder Quay Drainworks';
const SITES = 300;
const HISTORY_DAYS = 730;

export interface DemoBusiness {
  base: ClientBase;
  extras: DemoExtras;
  /** Orders done in the last months, behind the readings of the base. */
  visits: DemoVisit[];
}

/**
 * Alder Quay Drainworks in Wexley Reach, a business that does not exist, with two years of history up to the
 * day before `asOf`. The same seed, day and number of sites give the same business.
 */
export function demoBusiness(seed: number, asOf: IsoDate, siteCount = SITES): DemoBusiness {
  const from = addDays(asOf, -HISTORY_DAYS);
  const chance = new Chance(seed);
  const crews = demoCrews();
  const sites = demoSites(siteCount, from, asOf, chance.branch(1));
  const lines: LineRow[] = [];
  const readings: ReadingRow[] = [];
  const systemsOf = new Map<string, DemoSystem[]>();
  sites.forEach((site, index) => {
    const systems = demoSystems(site, chance.branch(1000 + index));
    systemsOf.set(site.row.siteId, systems);
    for (const system of systems) lines.push(...system.lines.map((line) => line.row));
    readings.push(...demoHistory(site, systems, { from, asOf }, crews, chance.branch(100_000 + index)));
  });
  readings.sort((a, b) => (a.observedAt < b.observedAt ? -1 : a.observedAt > b.observedAt ? 1 : 0));
  const base = { sites: sites.map((site) => site.row), lines, readings: withPlugs(readings, asOf), crews };
  const extras = demoExtras(sites, systemsOf, base, asOf, chance.branch(2));
  return { base, extras, visits: demoVisits(base, extras, asOf, chance.branch(3)) };
}
