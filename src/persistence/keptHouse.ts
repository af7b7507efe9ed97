import { randomUUID } from 'node:crypto';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { Queryable } from './rowStore.js';

/** What a business is kept in from its first start on. */
export interface HouseFaces {
  timeZone: string;
  currency: string;
  units: UnitSystem;
}

/** The one business of a database, by its mark. */
export interface KeptHouse extends HouseFaces {
  id: string;
  /** Since a restore: nothing goes out. */
  postHeldSince: string | null;
}

export const AT_FIRST: HouseFaces = { timeZone: 'America/Chicago', currency: 'USD', units: 'us' };
const SETTING = { timeZone: 'TIME_ZONE', currency: 'CURRENCY', units: 'UNITS' } as const;
const FACES = Object.keys(SETTING) as (keyof HouseFaces)[];

/** Why the endpoints of a restored base are switched off. */
export const RESTORED = 'restored from a backup: nobody has said yet that this base is the real one';

/** @returns Null before its first start. */
export async function keptHouse(q: Queryable): Promise<KeptHouse | null> {
  const { rows } = await q.query('SELECT id, time_zone, currency, units, post_held_since FROM house');
  const [row] = rows as Record<string, string | null>[];
  if (!row) return null;
  return {
    id: String(row['id']),
    timeZone: String(row['time_zone']),
    currency: String(row['currency']),
    units: row['units'] as UnitSystem,
    postHeldSince: row['post_held_since'] ?? null,
  };
}

/**
 * The business of this database as it is kept; at the first start as the settings say it, and where they say nothing
 * as `AT_FIRST`.
 *
 * @param said What the settings say.
 * @param asSet Whether what they say otherwise is taken from now on, instead of refused.
 * @returns `taken`: settings that nobody gave at the first start.
 * @throws {Error} Naming every setting that says otherwise, and what to do.
 */
export async function settleHouse(
  q: Queryable,
  said: Partial<HouseFaces>,
  { asSet = false }: { asSet?: boolean } = {},
): Promise<KeptHouse & { taken: string[] }> {
  const first = { ...AT_FIRST, ...said };
  const { rowCount } = await q.query(
    'INSERT INTO house (id, time_zone, currency, units) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING',
    [randomUUID(), first.timeZone, first.currency, first.units],
  );
  const otherwise = (kept: KeptHouse) =>
    FACES.filter((face) => said[face] !== undefined && said[face] !== kept[face]);
  let kept = await mustKeep(q);
  const strange = otherwise(kept);
  if (strange.length > 0 && !asSet)
    throw new Error(
      strange
        .map(
          (face) =>
            `${SETTING[face]} is ${said[face]}, and this business is kept in ${kept[face]}: set that or leave it out; ` +
            `with every instance stopped, \`npm run migrate -- --as-set\` takes what is set from now on`,
        )
        .join('\n'),
    );
  if (strange.length > 0) {
    const now = { ...kept, ...said };
    await q.query('UPDATE house SET time_zone = $1, currency = $2, units = $3', [
      now.timeZone,
      now.currency,
      now.units,
    ]);
    kept = await mustKeep(q);
  }
  const taken =
    rowCount === 1 ? FACES.filter((face) => said[face] === undefined).map((face) => SETTING[face]) : [];
  return { ...kept, taken };
}

async function mustKeep(q: Queryable): Promise<KeptHouse> {
  const kept = await keptHouse(q);
  if (kept === null) throw new Error('the business of this database went away');
  return kept;
}

/** After a restore: another mark, since another base may still be at work, and nothing goes out. */
export async function holdPost(q: Queryable): Promise<void> {
  await q.query('UPDATE house SET id = gen_random_uuid(), post_held_since = now()');
  await q.query(
    'UPDATE webhook_endpoint SET disabled_at = now(), disabled_because = $1 WHERE disabled_at IS NULL',
    [RESTORED],
  );
}

/**
 * Says that a restored base is the real one: what waits goes out.
 * @returns Since when it was held; null: it was not.
 */
export async function releasePost(q: Queryable): Promise<string | null> {
  const since = (await keptHouse(q))?.postHeldSince ?? null;
  await q.query('UPDATE house SET post_held_since = NULL WHERE post_held_since IS NOT NULL');
  await q.query(
    'UPDATE webhook_endpoint SET disabled_at = NULL, disabled_because = NULL WHERE disabled_because = $1',
    [RESTORED],
  );
  return since;
}

/** Some files on record, to see whether a folder is theirs. */
export async function someFileKeys(q: Queryable): Promise<string[]> {
  const { rows } = await q.query('SELECT original_key FROM stored_file ORDER BY created_at DESC LIMIT 20');
  return rows.map((row) => String(row['original_key']));
}
