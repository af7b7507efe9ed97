import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { KnownPerson } from '../../domain/privacy/personWords.js';
import type { ErasedPerson } from '../../domain/words.js';
import { phoneDigits } from '../../domain/work/clientDoubles.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';

/** Who asks to be erased. */
export interface ErasureAsk {
  person: ErasedPerson;
  /** Of the client, the contact or the call. */
  personId: string;
  askedOn: IsoDate;
  /** Other words that mean the person, as "Mrs Reed". */
  words: readonly string[];
  /** Photographs taken at a client's houses in the client's time. */
  photographs: boolean;
  /** Photographs by id: those that show the person. */
  attachmentIds: readonly string[];
}

/** A house and the days, both included, on which it was the person's; null: open. */
export interface OwnedHouse {
  siteId: string;
  fromDay: IsoDate | null;
  toDay: IsoDate | null;
}

/** The person as the books know it: the rows that are the person, and the houses it may be spoken of at. */
export interface PersonOnBooks {
  known: KnownPerson;
  clients: Row[];
  contacts: Row[];
  calls: Row[];
  /** Of a client, in the client's own time; of a contact or caller, the site they stand at. */
  houses: OwnedHouse[];
  /** Still the client's today. */
  ownedNow: Row[];
}

const textOf = (value: unknown): string | null =>
  typeof value === 'string' && value.trim() !== '' ? value : null;
const textsOf = (rows: readonly Row[], column: string): string[] => [
  ...new Set(rows.flatMap((row) => textOf(row[column]) ?? [])),
];

/** @throws {Refused} `not-found`. */
export async function personOnBooks(house: House, stores: Stores, ask: ErasureAsk): Promise<PersonOnBooks> {
  const today = house.zone.dayOf(house.clock.now());
  const found =
    ask.person === 'client'
      ? await clientOnBooks(stores, ask.personId, today)
      : ask.person === 'contact'
        ? await contactOnBooks(stores, ask.personId)
        : await callerOnBooks(stores, ask.personId);
  const people = [...found.clients, ...found.contacts];
  return {
    ...found,
    known: {
      names: [...new Set([...textsOf(people, 'name'), ...textsOf(found.calls, 'caller_name')])],
      phones: [...new Set([...textsOf(people, 'phone'), ...textsOf(found.calls, 'caller_phone')])],
      emails: textsOf(people, 'email'),
      words: ask.words,
    },
  };
}

type Found = Omit<PersonOnBooks, 'known'>;

/** A client with its doubles, and the contacts that are the same person by name, phone or address. */
async function clientOnBooks(stores: Stores, id: string, today: IsoDate): Promise<Found> {
  const { rows } = stores;
  const client = await rows.lock('client', id);
  if (!client) throw new Refused({ code: 'not-found', resource: 'client', id });
  const clients = [client, ...(await rows.all('client', [{ column: 'merged_into_id', is: '=', value: id }]))];
  const ids = clients.map((row) => row['id']);
  const owned = await rows.all('site_client', [{ column: 'client_id', is: 'in', value: ids }]);
  const siteIds = [...new Set(owned.map((row) => row['site_id']))];
  const near = [
    ...(await rows.all('contact', [{ column: 'client_id', is: 'in', value: ids }])),
    ...(await rows.all('contact', [{ column: 'site_id', is: 'in', value: siteIds }])),
  ];
  const contacts = near.filter(
    (contact, i) =>
      near.findIndex((each) => each['id'] === contact['id']) === i &&
      clients.some((each) => isSamePerson(each, contact)),
  );
  return {
    clients,
    contacts,
    calls: await rows.all('phone_call', [{ column: 'client_id', is: 'in', value: ids }]),
    houses: owned.map((row) => ({
      siteId: String(row['site_id']),
      fromDay: row['from_day'] as IsoDate | null,
      toDay: row['to_day'] as IsoDate | null,
    })),
    ownedNow: owned.filter((row) => row['to_day'] === null || String(row['to_day']) > today),
  };
}

const isSamePerson = (client: Row, contact: Row): boolean =>
  sameText(client['name'], contact['name']) ||
  sameText(client['email'], contact['email']) ||
  (textOf(client['phone']) !== null &&
    textOf(contact['phone']) !== null &&
    phoneDigits(String(client['phone'])) === phoneDigits(String(contact['phone'])));

const sameText = (a: unknown, b: unknown): boolean =>
  textOf(a) !== null && textOf(b) !== null && String(a).toLowerCase() === String(b).toLowerCase();

async function contactOnBooks(stores: Stores, id: string): Promise<Found> {
  const contact = await stores.rows.lock('contact', id);
  if (!contact) throw new Refused({ code: 'not-found', resource: 'contact', id });
  return { ...NOBODY, contacts: [contact], houses: housesAt(contact['site_id']) };
}

async function callerOnBooks(stores: Stores, id: string): Promise<Found> {
  const call = await stores.rows.lock('phone_call', id);
  if (!call) throw new Refused({ code: 'not-found', resource: 'phone_call', id });
  return { ...NOBODY, calls: [call], houses: housesAt(call['site_id']) };
}

const NOBODY: Found = { clients: [], contacts: [], calls: [], houses: [], ownedNow: [] };
const housesAt = (siteId: unknown): OwnedHouse[] =>
  siteId === null ? [] : [{ siteId: String(siteId), fromDay: null, toDay: null }];
