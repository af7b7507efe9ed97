import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { ERASED } from '../../domain/privacy/personWords.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Actor, Row } from '../ports.js';
import { Refused } from '../problems.js';
import { emptyCopies } from './emptyCopies.js';
import { ELSEWHERE, type Kept, keptRecords } from './keptRecords.js';
import { type ErasureAsk, type OwnedHouse, type PersonOnBooks, personOnBooks } from './knownOf.js';
import { failingNameless } from './namelessFailure.js';
import {
  type FoundText,
  type Near,
  type Search,
  searchFor,
  type Texts,
  textsOf,
  yearsBefore,
} from './wordsLeft.js';

/** Records that are the person, with the fields that are emptied. */
interface OwnRecord {
  resource: string;
  id: string;
  fields: string[];
}

/** What an erasure would do, or why it cannot be done yet. */
export interface ErasureLook {
  person: ErasureAsk['person'];
  personId: string;
  records: OwnRecord[];
  texts: FoundText[];
  photographs: string[];
  kept: Kept[];
  toLookAt: FoundText[];
  blockedBy: { code: string; id: string; text: string }[];
  elsewhere: string[];
}

/** Looks only: nothing is changed. @throws {Refused} `not-found`. */
export async function lookAtErasure(house: House, stores: Stores, ask: ErasureAsk): Promise<ErasureLook> {
  const { look } = await failingNameless(() => prepared(house, stores, ask, false));
  return look;
}

export interface Erased {
  row: Row;
  toLookAt: FoundText[];
  /** Keys of photographs whose bytes go once the transaction is through. */
  fileKeys: string[];
}

/**
 * Erases a client, a contact or a caller: the records that are the person are emptied and archived, every text that
 * holds the person's words is written over, photographs asked for are removed, mails to come are dropped. Readings,
 * work, litres and money stay without the person. The whole database is searched once more before it is done.
 *
 * @throws {Refused} `not-found`; `rule-broken` while work or care terms stand, or for a day to come.
 */
export function erasePerson(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  ask: ErasureAsk,
): Promise<Erased> {
  return failingNameless(() => erased(house, stores, actor, ask));
}

async function erased(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  ask: ErasureAsk,
): Promise<Erased> {
  const today = house.zone.dayOf(house.clock.now());
  refuseDay(ask.askedOn, today);
  await stores.erasures.mayTouchFindings();
  const { person, search, near, keptSince, look } = await prepared(house, stores, ask, false);
  if (look.blockedBy.length > 0)
    throw new Refused({
      code: 'rule-broken',
      rule: 'erasure',
      faults: look.blockedBy.map(({ text }) => ({
        pointer: '#/personId',
        detail: text,
        remedy: 'end it first, then erase',
      })),
    });
  const { count: photographs, keys } = await removePhotographs(stores, look.photographs, today);
  const mails = await stores.erasures.forgetMails(person.contacts.map((row) => String(row['id'])));
  await emptyRecords(house, stores, ask, person, today);
  await emptyCopies(
    stores,
    look.records.map(({ id }) => id),
  );
  const texts = await textsOf(stores, search, near, keptSince, true);
  for (const { row, change } of texts.changes) await stores.erasures.overwrite(row, change);
  const left = await textsOf(stores, search, near, keptSince, false);
  if (left.erased.length > 0)
    throw new RangeError(`words of the person are left in ${left.erased.map(placeOf).join(', ')}`);
  const counts = {
    records: countsOf(look.records),
    texts: countsOf(texts.erased),
    photographs,
    mailsDropped: mails,
  };
  const row = await stores.rows.insert('erasure', {
    id: newId(),
    person: ask.person,
    person_id: ask.personId,
    asked_on: ask.askedOn,
    photographs: photographs > 0,
    erased: counts,
    kept: JSON.stringify(look.kept),
    done_by: actor.name,
    done_at: house.clock.now().toISOString(),
  });
  return { row, toLookAt: left.toLookAt, fileKeys: keys };
}

const placeOf = ({ resource, field }: FoundText): string => `${resource}.${field}`;

function refuseDay(askedOn: IsoDate, today: IsoDate): void {
  if (askedOn > today)
    throw new Refused({
      code: 'rule-broken',
      rule: 'erasure',
      faults: [
        { pointer: '#/askedOn', detail: `${askedOn} is still to come`, remedy: `a day up to ${today}` },
      ],
    });
}

function countsOf(found: readonly { resource: string }[]): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const { resource } of found) counts[resource] = (counts[resource] ?? 0) + 1;
  return counts;
}

interface Prepared {
  person: PersonOnBooks;
  search: Search;
  near: Near;
  keptSince: string;
  look: ErasureLook;
}

async function prepared(house: House, stores: Stores, ask: ErasureAsk, lock: boolean): Promise<Prepared> {
  const today = house.zone.dayOf(house.clock.now());
  const { keeping } = await ownerSettings(stores);
  const person = await personOnBooks(house, stores, ask);
  const near = await nearOf(stores, person);
  const search = await searchFor(stores, person, near);
  const keptSince = yearsBefore(today, keeping.incidentYears);
  const texts: Texts = await textsOf(stores, search, near, keptSince, lock);
  const records = recordsOf(person);
  const ids = new Set(records.map(({ id }) => id));
  const kept = await keptRecords(stores, { near, keeping, today, texts, search });
  const { photographs, keptPhotographs } = await photographsOf(house, stores, ask, person, keptSince);
  return {
    person,
    search,
    near,
    keptSince,
    look: {
      person: ask.person,
      personId: ask.personId,
      records,
      texts: texts.erased.filter(({ id }) => id === null || !ids.has(id)),
      photographs,
      kept: [...kept, ...keptPhotographs],
      toLookAt: texts.toLookAt.filter(({ id }) => id === null || !ids.has(id)),
      blockedBy: await blocksOf(stores, ask, person, today),
      elsewhere: [...ELSEWHERE],
    },
  };
}

async function nearOf(stores: Stores, person: PersonOnBooks): Promise<Near> {
  const siteIds = [...new Set(person.houses.map(({ siteId }) => siteId))];
  const ids = async (table: string) =>
    new Set(
      (await stores.rows.all(table, [{ column: 'site_id', is: 'in', value: siteIds }])).map((row) =>
        String(row['id']),
      ),
    );
  return {
    siteIds: new Set(siteIds),
    clientIds: new Set(person.clients.map((row) => String(row['id']))),
    orderIds: await ids('work_order'),
    lineIds: await ids('line'),
    pitIds: await ids('pit'),
  };
}

const EMPTIED = {
  client: ['name', 'phone', 'email', 'note', 'external_ref'],
  contact: ['name', 'phone', 'email', 'note', 'may_consent_to'],
  phone_call: ['caller_name', 'caller_phone'],
} as const;

function recordsOf({ clients, contacts, calls }: PersonOnBooks): OwnRecord[] {
  const of = (resource: keyof typeof EMPTIED, rows: readonly Row[]) =>
    rows.map((row) => ({
      resource,
      id: String(row['id']),
      fields: EMPTIED[resource].filter(
        (field) => row[field] !== null && String(row[field]) !== '' && row[field] !== ERASED,
      ),
    }));
  return [...of('client', clients), ...of('contact', contacts), ...of('phone_call', calls)].filter(
    ({ fields }) => fields.length > 0,
  );
}

/** Work ahead and terms in force need somebody to be told and billed: they end first. */
async function blocksOf(
  stores: Stores,
  ask: ErasureAsk,
  person: PersonOnBooks,
  today: IsoDate,
): Promise<ErasureLook['blockedBy']> {
  if (ask.person !== 'client') return [];
  const siteIds = person.ownedNow.map((row) => row['site_id']);
  const orders = await stores.rows.all('work_order', [
    { column: 'site_id', is: 'in', value: siteIds },
    { column: 'state', is: 'in', value: ['wanted', 'placed', 'under_way'] },
  ]);
  const terms = (
    await stores.rows.all('care_terms', [{ column: 'site_id', is: 'in', value: siteIds }])
  ).filter((row) => row['to_day'] === null || String(row['to_day']) > today);
  return [
    ...orders.map((row) => ({
      code: 'open_order',
      id: String(row['id']),
      text: `Order ${String(row['number'])} is ${String(row['state']).replaceAll('_', ' ')}: finish or withdraw it.`,
    })),
    ...terms.map((row) => ({
      code: 'care_terms',
      id: String(row['id']),
      text: 'Care terms are in force at a house of the client: end them.',
    })),
  ];
}

async function emptyRecords(
  house: House,
  stores: Stores,
  ask: ErasureAsk,
  person: PersonOnBooks,
  today: IsoDate,
): Promise<void> {
  const { rows } = stores;
  for (const { id, archived_on: archived } of person.clients)
    await rows.update('client', String(id), {
      name: ERASED,
      phone: null,
      email: null,
      note: null,
      source: null,
      external_ref: null,
      archived_on: archived ?? today,
    });
  for (const { id, archived_on: archived } of person.contacts)
    await rows.update('contact', String(id), {
      name: ERASED,
      phone: null,
      email: null,
      note: null,
      may_consent_to: [],
      opt_out: true,
      no_mail: true,
      archived_on: archived ?? today,
    });
  for (const { id } of person.calls)
    await rows.update('phone_call', String(id), { caller_name: null, caller_phone: null });
  if (ask.person !== 'client') return;
  for (const { id, from_day: fromDay } of person.ownedNow)
    await rows.update('site_client', String(id), {
      to_day: fromDay !== null && String(fromDay) > today ? fromDay : today,
    });
  for (const { site_id: siteId } of person.ownedNow)
    for (const { id } of await rows.all('feed', [
      { column: 'site_id', is: '=', value: siteId },
      { column: 'revoked_at', is: 'null' },
    ]))
      await rows.update('feed', String(id), { revoked_at: house.clock.now().toISOString() });
  for (const each of person.houses) await forgetSpeakers(house, stores, each);
}

/** Who of the client's side said yes, no, or was told, in the client's time. */
async function forgetSpeakers(house: House, stores: Stores, owned: OwnedHouse): Promise<void> {
  const { rows } = stores;
  const onSite = [{ column: 'site_id', is: '=' as const, value: owned.siteId }];
  const orders = (await rows.all('work_order', onSite)).map((row) => row['id']);
  const ofOrders = [{ column: 'work_order_id', is: 'in' as const, value: orders }];
  const clear = async (table: string, found: readonly Row[], who: string, when: string) => {
    for (const row of found)
      if (row[who] !== null && row[when] !== null && within(house, owned, row[when]))
        await rows.update(table, String(row['id']), { [who]: ERASED });
  };
  await clear('decision', await rows.all('decision', onSite), 'decided_by', 'decided_on');
  await clear('proposal', await rows.all('proposal', onSite), 'answered_by', 'answered_on');
  await clear('promise', await rows.all('promise', ofOrders), 'told_to', 'told_at');
  const tasks = await rows.all('work_order_task', ofOrders);
  await clear('work_order_task', tasks, 'accepted_by', 'accepted_at');
  await clear('work_order_task', tasks, 'declined_by', 'declined_at');
}

function within(house: House, { fromDay, toDay }: OwnedHouse, at: unknown): boolean {
  const day = /^\d{4}-\d{2}-\d{2}$/.test(String(at)) ? String(at) : house.zone.dayOf(new Date(String(at)));
  return (fromDay === null || day >= fromDay) && (toDay === null || day <= toDay);
}

/** Photographs named, and where asked all of the client's time; those of an order with an incident stay as evidence. */
async function photographsOf(
  house: House,
  stores: Stores,
  ask: ErasureAsk,
  person: PersonOnBooks,
  keptSince: IsoDate,
): Promise<{ photographs: string[]; keptPhotographs: Kept[] }> {
  const { rows } = stores;
  const named = await rows.all('attachment', [{ column: 'id', is: 'in', value: [...ask.attachmentIds] }]);
  const unknown = ask.attachmentIds.filter((id) => !named.some((row) => row['id'] === id));
  if (unknown.length > 0)
    throw new Refused({
      code: 'unknown-reference',
      faults: unknown.map((id) => ({
        pointer: '#/attachmentIds',
        detail: `there is no photograph ${id}`,
        remedy: 'ids of GET /v1/attachments',
      })),
    });
  const taken: Row[] = [];
  if (ask.photographs)
    for (const each of person.houses)
      taken.push(
        ...(await rows.all('attachment', [{ column: 'site_id', is: '=', value: each.siteId }])).filter(
          (row) => within(house, each, row['taken_at']),
        ),
      );
  const all = [...new Map([...named, ...taken].map((row) => [String(row['id']), row])).values()];
  const orderIds = [...new Set(all.map((row) => row['work_order_id']).filter((id) => id !== null))];
  const incidents = (
    await rows.all('incident', [{ column: 'work_order_id', is: 'in', value: orderIds }])
  ).filter((row) => String(row['happened_at']) >= keptSince);
  const evidence = new Set(incidents.map((row) => row['work_order_id']));
  const stays = all.filter((row) => row['work_order_id'] !== null && evidence.has(row['work_order_id']));
  const last = incidents
    .map((row) => String(row['happened_at']).slice(0, 10))
    .sort()
    .at(-1);
  const years = (await ownerSettings(stores)).keeping.incidentYears;
  return {
    photographs: all.filter((row) => !stays.includes(row)).map((row) => String(row['id'])),
    keptPhotographs:
      stays.length === 0 || last === undefined
        ? []
        : [
            {
              what: 'photographs',
              count: stays.length,
              why: 'Evidence of an incident.',
              until: addDays(last, Math.round(365.25 * years)),
            },
          ],
  };
}

async function removePhotographs(
  stores: Stores,
  ids: readonly string[],
  today: IsoDate,
): Promise<{ count: number; keys: string[] }> {
  const files = await stores.rows.all('stored_file', [{ column: 'id', is: 'in', value: [...ids] }]);
  for (const id of ids) await stores.rows.update('attachment', id, { caption: null, archived_on: today });
  for (const { id } of files) await stores.rows.remove('stored_file', String(id));
  return {
    count: ids.length,
    keys: files.flatMap((row) =>
      [row['original_key'], row['public_key'], row['thumbnail_key']].flatMap((key) =>
        key === null ? [] : [String(key)],
      ),
    ),
  };
}
