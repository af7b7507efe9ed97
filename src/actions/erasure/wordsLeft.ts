import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { isOurWord } from '../../domain/privacy/ourWords.js';
import {
  ERASED,
  nameParts,
  type PersonWords,
  personWords,
  withoutWords,
} from '../../domain/privacy/personWords.js';
import { phoneDigits } from '../../domain/work/clientDoubles.js';
import type { Stores } from '../house.js';
import type { FoundRow } from './erasureStore.js';
import type { PersonOnBooks } from './knownOf.js';

/** A text that holds the person, or may. */
export interface FoundText {
  resource: string;
  id: string | null;
  field: string;
  excerpt: string;
}

/** What the records are searched for, and what of it belongs to others too. */
export interface Search {
  /** Of this person alone: written over wherever it stands. */
  own: PersonWords | null;
  /** A name somebody else on the books has as well: written over only where the person's houses are spoken of. */
  shared: PersonWords | null;
  /** Surnames and first names, to be looked at by a person. */
  parts: PersonWords | null;
  sharedReach: { digits: string[]; emails: string[] };
}

export async function searchFor(stores: Stores, person: PersonOnBooks): Promise<Search> {
  const { names, phones, emails, words } = person.known;
  const ownIds = [...person.clients, ...person.contacts].map((row) => String(row['id']));
  const sharedNames = new Set(
    (await stores.erasures.sharedNames(names, ownIds)).map((name) => name.toLowerCase()),
  );
  const sharedReach = await stores.erasures.sharedReach(
    phones.map(phoneDigits),
    emails.map((email) => email.toLowerCase()),
    ownIds,
  );
  const telling = names.filter((name) => !isOurWord(name) && name !== ERASED);
  const isShared = (name: string) => sharedNames.has(name.toLowerCase());
  return {
    own: personWords({
      names: telling.filter((name) => !isShared(name)),
      phones: phones.filter((phone) => !sharedReach.digits.includes(phoneDigits(phone))),
      emails: emails.filter((email) => !sharedReach.emails.includes(email.toLowerCase())),
      words,
    }),
    shared: personWords({ names: telling.filter(isShared), phones: [], emails: [], words: [] }),
    parts: personWords({
      names: nameParts(telling).filter((part) => !isOurWord(part)),
      phones: [],
      emails: [],
      words: [],
    }),
    sharedReach,
  };
}

/** Who wrote something down: of a name that another person has too, this is the other one. */
const WRITERS: ReadonlySet<string> = new Set([
  'actor',
  'added_by',
  'asked_by',
  'author',
  'changed_by',
  'checked_by',
  'closed_by',
  'done_by',
  'made_by',
  'offered_by',
  'published_by',
  'reported_by',
  'settled_by',
  'taken_by',
  'told_by',
]);

/** Kept in words, for as long as the law asks for it. */
const mustStay = ({ table, refs }: FoundRow, keptSince: string): boolean =>
  table === 'incident' && String(refs['happened_at'] ?? '') >= keptSince;

/** Where each row of the person's houses can be told by. */
export interface Near {
  siteIds: ReadonlySet<string>;
  clientIds: ReadonlySet<string>;
  orderIds: ReadonlySet<string>;
  lineIds: ReadonlySet<string>;
  pitIds: ReadonlySet<string>;
}

const isNear = ({ table, id, refs }: FoundRow, near: Near): boolean => {
  const holds = (all: ReadonlySet<string>, name: string) => all.has(String(refs[name] ?? ''));
  const own = { site: near.siteIds, work_order: near.orderIds, client: near.clientIds }[table];
  return (
    (own !== undefined && id !== null && own.has(id)) ||
    holds(near.siteIds, 'site_id') ||
    holds(near.clientIds, 'client_id') ||
    holds(near.orderIds, 'work_order_id') ||
    holds(near.lineIds, 'line_id') ||
    holds(near.pitIds, 'pit_id')
  );
};

export interface Texts {
  /** Rows with what each column becomes. */
  changes: { row: FoundRow; change: Record<string, unknown>; places: number }[];
  erased: FoundText[];
  /** Kept by law with the person's words. */
  kept: FoundText[];
  /** Not written over: a person looks whether it means this person. */
  toLookAt: FoundText[];
}

/**
 * Every text of the database that holds the person, and what becomes of it.
 *
 * @param keptSince Instant since which incidents are kept as they are.
 */
export async function textsOf(
  stores: Stores,
  search: Search,
  near: Near,
  keptSince: string,
  lock: boolean,
): Promise<Texts> {
  const texts: Texts = { changes: [], erased: [], kept: [], toLookAt: [] };
  const pattern = [search.own, search.shared, search.parts].flatMap((words) => words?.loose ?? []).join('|');
  if (pattern === '') return texts;
  for (const table of await stores.erasures.textTables())
    for (const row of await stores.erasures.find(table, pattern, lock)) {
      const close = isNear(row, near);
      const change: Record<string, unknown> = {};
      let places = 0;
      for (const [column, value] of Object.entries(row.values)) {
        const own = search.own === null ? { value, places: 0 } : withoutWords(value, search.own);
        const more =
          search.shared !== null && close && !WRITERS.has(column)
            ? withoutWords(own.value, search.shared)
            : { value: own.value, places: 0 };
        const here = own.places + more.places;
        if (here > 0 && mustStay(row, keptSince))
          texts.kept.push(textFound(row, column, value, [search.own, search.shared]));
        else if (here > 0) {
          change[column] = more.value;
          places += here;
          texts.erased.push(textFound(row, column, value, [search.own, search.shared]));
        }
        if (mustStay(row, keptSince)) continue;
        const doubtful = [...(close && !WRITERS.has(column) ? [search.parts] : []), search.shared].filter(
          (words) => words !== null && withoutWords(more.value, words).places > 0,
        );
        if (doubtful.length > 0 && (close || !PEOPLE.has(row.table)))
          texts.toLookAt.push(textFound(row, column, more.value, doubtful));
      }
      if (places > 0) texts.changes.push({ row, change, places });
    }
  return texts;
}

/** Another of that name is known by it here; there is nothing to look at. */
const PEOPLE: ReadonlySet<string> = new Set(['access_key', 'client', 'contact', 'member']);

const AROUND = 40;

function textFound(
  { table, id }: FoundRow,
  field: string,
  value: unknown,
  words: readonly (PersonWords | null)[],
): FoundText {
  const text = typeof value === 'string' ? value : JSON.stringify(value);
  const at = Math.max(
    0,
    Math.min(
      ...words.flatMap((each) => {
        const found = each === null ? -1 : text.search(each.exact);
        return found < 0 ? [] : [found];
      }),
      text.length,
    ),
  );
  const excerpt = text.slice(Math.max(0, at - AROUND), at + 2 * AROUND);
  return { resource: table, id, field, excerpt };
}

/** First day of so many years before a day. */
export const yearsBefore = (day: IsoDate, years: number): IsoDate =>
  addDays(day, -Math.round(365.25 * years));
