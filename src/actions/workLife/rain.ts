import { v7 as newId } from 'uuid';
import type { TaskKind } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { tell } from '../telling/tell.js';
import { TRENCHES } from './startChecks.js';

const MOST_NAMED = 20;

/**
 * Records rain that ended on an area of the sites on the books, whatever its case; null: everywhere. Crews in a trench
 * there are told.
 *
 * @throws {Refused} `rule-broken`: no site lies in an area of that name, rain that has not ended; `not-yours`.
 */
export async function recordRain(
  house: House,
  stores: Stores,
  actor: Actor,
  rain: { area: string | null; endedAt: string },
): Promise<Row> {
  if (liesAhead(house, rain.endedAt))
    throw ruleBroken('rain', '#/endedAt', `${rain.endedAt} lies in the future`, 'the moment the rain ended');
  const area = rain.area === null ? null : await knownArea(stores, rain.area);
  await refuseForeignArea(house, stores, actor, area, rain.endedAt);
  const row = await stores.rows.insert('rain', {
    id: newId(),
    area,
    ended_at: rain.endedAt,
    author: actor.name,
  });
  await tellCrews(stores, area, rain.endedAt);
  return row;
}

/** A word that sends crews out of their trenches: a technician's holds where the own crew is that day. */
async function refuseForeignArea(
  house: House,
  stores: Stores,
  actor: Actor,
  area: string | null,
  at: string,
): Promise<void> {
  if (actor.roles.some((role) => role === 'dispatcher' || role === 'owner')) return;
  const day = house.zone.dayOf(new Date(at));
  if (area !== null && actor.memberId !== null && (await stores.work.isAreaOf(actor.memberId, day, area)))
    return;
  throw new Refused({
    code: 'not-yours',
    resource: 'rain',
    id: area ?? 'everywhere',
    detail:
      area === null
        ? 'Rain everywhere is for the office to say; name the area of a house on your route.'
        : `No house on a route of your crew on ${day} lies in ${area}; tell the office.`,
  });
}

/** Crews in an open trench there are told to get out, unless it was checked after the rain already. */
async function tellCrews(stores: Stores, area: string | null, rainEndedAt: string): Promise<void> {
  const underWay = await stores.rows.all('work_order', [
    { column: 'state', is: '=', value: 'under_way' },
    { column: 'started_at', is: '<=', value: rainEndedAt },
  ]);
  for (const order of underWay) {
    const of = { column: 'work_order_id', is: '=' as const, value: order['id'] };
    const tasks = await stores.rows.all('work_order_task', [of]);
    if (!tasks.some(({ kind }) => TRENCHES.includes(kind as TaskKind))) continue;
    const site = (await stores.rows.get('site', String(order['site_id']))) ?? {};
    if (area !== null && plain(String(site['area'])) !== plain(area)) continue;
    const since = await stores.rows.count('trench_check', [
      of,
      { column: 'passed', is: '=', value: true },
      { column: 'checked_at', is: '>=', value: rainEndedAt },
    ]);
    if (since > 0) continue;
    const [attempt] = await stores.rows.all('attempt', [of, { column: 'ended_at', is: 'null' }]);
    await tell(stores, {
      type: 'trench_check_over',
      subjectId: String(order['id']),
      once: `${String(order['id'])}:${rainEndedAt}`,
      facts: { orderNumber: Number(order['number']), address: String(site['address']), rainEndedAt },
      about: {
        workOrderId: String(order['id']),
        siteId: String(site['id']),
        crewId: (attempt?.['crew_id'] ?? null) as string | null,
      },
    });
  }
}

const plain = (name: string): string => name.trim().toLowerCase();

/**
 * A report of rain that was a slip: it counts for no trench any more. Twice changes nothing.
 *
 * @throws {Refused} `not-found`.
 */
export async function withdrawRain(house: House, stores: Stores, actor: Actor, id: string): Promise<Row> {
  const rain = await stores.rows.lock('rain', id);
  if (!rain) throw new Refused({ code: 'not-found', resource: 'rain', id });
  if (rain['withdrawn_at'] !== null) return rain;
  const withdrawn = { withdrawn_at: house.clock.now().toISOString(), withdrawn_by: actor.name };
  return (await stores.rows.update('rain', id, withdrawn)) ?? rain;
}

async function knownArea(stores: Stores, said: string): Promise<string> {
  const areas = await stores.workLife.areas();
  const known = areas.find((area) => area === said) ?? areas.find((area) => plain(area) === plain(said));
  if (known !== undefined) return known;
  const more = areas.length > MOST_NAMED ? ` and ${areas.length - MOST_NAMED} more (GET /v1/sites)` : '';
  throw ruleBroken(
    'rain',
    '#/area',
    `no site lies in an area named ${said}`,
    `${areas.slice(0, MOST_NAMED).join(', ')}${more}; or no area for rain everywhere`,
  );
}
