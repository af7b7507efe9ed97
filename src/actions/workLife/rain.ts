import { v7 as newId } from 'uuid';
import type { Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';

const MOST_NAMED = 20;

/**
 * Records rain that ended on an area of the sites on the books, whatever its case; null: everywhere.
 *
 * @throws {Refused} `rule-broken`: no site lies in an area of that name.
 */
export async function recordRain(
  stores: Stores,
  actor: Actor,
  rain: { area: string | null; endedAt: string },
): Promise<Row> {
  const area = rain.area === null ? null : await knownArea(stores, rain.area);
  return stores.rows.insert('rain', { id: newId(), area, ended_at: rain.endedAt, author: actor.name });
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
