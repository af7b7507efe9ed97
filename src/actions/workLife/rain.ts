import { v7 as newId } from 'uuid';
import type { House, Stores } from '../house.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

const MOST_NAMED = 20;

/**
 * Records rain that ended on an area of the sites on the books, whatever its case; null: everywhere.
 *
 * @throws {Refused} `rule-broken`: no site lies in an area of that name, rain that has not ended.
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
  return stores.rows.insert('rain', { id: newId(), area, ended_at: rain.endedAt, author: actor.name });
}

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
  const plain = (name: string) => name.trim().toLowerCase();
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
