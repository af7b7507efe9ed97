import { v7 as newId } from 'uuid';
import {
  EARLIER_RECORD,
  type KnownClient,
  type LikelyDouble,
  likelyDouble,
  phoneDigits,
} from '../../domain/work/clientDoubles.js';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

export interface FoundDouble extends Omit<LikelyDouble, 'ids'> {
  clients: [KnownClient, KnownClient];
}

/** Pairs of clients that are likely one, likeliest first. */
export async function findDoubles(stores: Stores): Promise<FoundDouble[]> {
  const rows = await stores.search.alikeClients();
  const byMark = new Map<string, KnownClient[]>();
  for (const row of rows) {
    const client: KnownClient = {
      id: String(row['id']),
      name: String(row['name']),
      phone: textOf(row['phone']),
      email: textOf(row['email']),
      addresses: row['addresses'] as string[],
    };
    for (const mark of row['marks'] as string[]) byMark.set(mark, [...(byMark.get(mark) ?? []), client]);
  }
  const found = new Map<string, FoundDouble>();
  for (const group of byMark.values())
    group.forEach((a, i) => {
      for (const b of group.slice(i + 1)) {
        const key = [a.id, b.id].sort().join();
        const double = found.has(key) ? null : likelyDouble(a, b);
        if (double) found.set(key, { clients: [a, b], score: double.score, because: double.because });
      }
    });
  return [...found.values()].sort(
    (a, b) => b.score - a.score || (a.clients[0].id < b.clients[0].id ? -1 : 1),
  );
}

const textOf = (value: unknown): string | null => (value === null ? null : String(value));

export interface Merged {
  kept: Row;
  moved: { sites: number; contacts: number; calls: number };
}

/**
 * A double becomes part of the client that is kept: its sites with their terms and history, its contacts and calls
 * move; phone and e-mail fill what the kept one lacks, or stay as a contact. The double is archived and points to
 * the kept one for ever.
 *
 * @throws {Refused} `not-found`; `rule-broken` for a client merged before, or with itself.
 */
export async function mergeClients(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  keptId: string,
  doubleId: string,
  because: string,
): Promise<Merged> {
  if (keptId === doubleId)
    throw ruleBroken('merge', '#/doubleId', 'is the client itself', 'the id of another client');
  const locked = new Map<string, Row>();
  // In one order, whoever merges whom.
  for (const id of [keptId, doubleId].sort()) {
    const row = await stores.rows.lock('client', id);
    if (!row) {
      if (id === keptId) throw new Refused({ code: 'not-found', resource: 'client', id });
      throw ruleBroken('merge', '#/doubleId', `there is no client ${id}`, 'the id of the doubled client');
    }
    locked.set(id, row);
  }
  const kept = locked.get(keptId) ?? {};
  const double = locked.get(doubleId) ?? {};
  for (const [row, pointer] of [
    [kept, '#'],
    [double, '#/doubleId'],
  ] as const)
    if (row['merged_into_id'] !== null)
      throw ruleBroken(
        'merge',
        pointer,
        `was merged into client ${String(row['merged_into_id'])}`,
        `client ${String(row['merged_into_id'])}`,
      );
  const moved = {
    sites: await move(stores, 'site_client', keptId, doubleId),
    contacts: await move(stores, 'contact', keptId, doubleId),
    calls: await move(stores, 'phone_call', keptId, doubleId),
  };
  await pointOlderDoubles(stores, keptId, doubleId);
  await keepWaysToReach(stores, kept, double);
  const now = house.clock.now();
  await stores.rows.update('client', doubleId, {
    merged_into_id: keptId,
    merged_at: now.toISOString(),
    merged_by: actor.name,
    merged_because: because,
    archived_on: double['archived_on'] ?? house.zone.dayOf(now),
  });
  const filled = Object.fromEntries(
    ['phone', 'email', 'note'].flatMap((column) =>
      kept[column] === null && double[column] !== null ? [[column, double[column]]] : [],
    ),
  );
  return {
    kept: (await stores.rows.update('client', keptId, { ...filled, archived_on: null })) ?? kept,
    moved,
  };
}

async function move(stores: Stores, table: string, keptId: string, doubleId: string): Promise<number> {
  const rows = await stores.rows.all(table, [{ column: 'client_id', is: '=', value: doubleId }]);
  for (const row of rows) await stores.rows.update(table, String(row['id']), { client_id: keptId });
  return rows.length;
}

/** A chain of merges is never longer than one step. */
async function pointOlderDoubles(stores: Stores, keptId: string, doubleId: string): Promise<void> {
  for (const row of await stores.rows.all('client', [{ column: 'merged_into_id', is: '=', value: doubleId }]))
    await stores.rows.update('client', String(row['id']), { merged_into_id: keptId });
}

/** A number or address that the kept client does not have stays findable as a contact. */
async function keepWaysToReach(stores: Stores, kept: Row, double: Row): Promise<void> {
  const phone = differs(kept['phone'], double['phone'], phoneDigits) ? double['phone'] : null;
  const email = differs(kept['email'], double['email'], (text) => text.trim().toLowerCase())
    ? double['email']
    : null;
  if (phone === null && email === null && kept['name'] === double['name']) return;
  await stores.rows.insert('contact', {
    id: newId(),
    client_id: kept['id'],
    name: double['name'],
    role: EARLIER_RECORD,
    phone,
    email,
    language: double['language'],
  });
}

const differs = (kept: unknown, double: unknown, plain: (text: string) => string): boolean =>
  kept !== null && double !== null && plain(String(kept)) !== plain(String(double));
