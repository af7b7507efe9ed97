import { nearestName } from '../../domain/nearestName.js';
import type { Stores } from '../house.js';
import { type FieldFault, Refused } from '../problems.js';
import type { LineFilter } from './lineFilter.js';

const PLACES = ['area', 'town', 'builder'] as const;
const THINGS = { crewId: 'crew', siteId: 'site', clientId: 'client' } as const;
/** Names told where nothing is near. */
const NAMES_TOLD = 12;

/**
 * Refuses a filter by what no site bears, so that nobody takes a misspelt town for one without trouble.
 *
 * @throws {Refused} `rule-broken`, with the nearest name there is.
 */
export async function refuseUnknownValues({ reports, rows }: Stores, filter: LineFilter): Promise<void> {
  const faults: FieldFault[] = [];
  for (const name of PLACES) {
    const asked = filter[name];
    if (asked === undefined) continue;
    const borne = await reports.siteValues(name);
    if (borne.includes(asked)) continue;
    faults.push({
      pointer: `#/querystring:${name}`,
      detail: `no site has the ${name} ${JSON.stringify(asked)}`,
      remedy: await remedyFor(reports, name, asked, borne),
    });
  }
  for (const [name, table] of Object.entries(THINGS) as [keyof typeof THINGS, string][]) {
    const asked = filter[name];
    if (asked === undefined || (await rows.get(table, asked))) continue;
    faults.push({
      pointer: `#/querystring:${name}`,
      detail: `there is no ${table} ${asked}`,
      remedy: `the id of a ${table}, as /v1/${table}s lists them`,
    });
  }
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'filter-value', faults });
}

async function remedyFor(
  reports: Stores['reports'],
  name: (typeof PLACES)[number],
  asked: string,
  borne: readonly string[],
): Promise<string> {
  for (const other of PLACES) {
    if (other !== name && (await reports.siteValues(other)).includes(asked))
      return `it is ${other === 'area' ? 'an' : 'a'} ${other}: ask with ${other}=${encodeURIComponent(asked)}`;
  }
  const near = nearestName(asked, borne);
  if (near !== null) return `perhaps ${JSON.stringify(near)}`;
  if (borne.length === 0) return `leave it out: no ${name} is on record`;
  const told = borne.slice(0, NAMES_TOLD).join(', ');
  return `one of: ${told}${borne.length > NAMES_TOLD ? ` and ${borne.length - NAMES_TOLD} more` : ''}`;
}
