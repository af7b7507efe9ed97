import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { isOurWord } from '../../domain/privacy/ourWords.js';
import {
  changeTexts,
  ERASED,
  isSeveralWords,
  isTellingNumber,
  nameParts,
  type PersonWords,
  personWords,
  textWithout,
} from '../../domain/privacy/personWords.js';
import type { IncidentKind } from '../../domain/words.js';
import { phoneDigits } from '../../domain/work/clientDoubles.js';
import { isKeptByLaw } from '../../domain/work/incidentRules.js';
import type { Stores } from '../house.js';
import type { FoundRow } from './erasureStore.js';
import type { PersonOnBooks } from './knownOf.js';
import { holdsOf, isOfPeople, isOthersOwn, WRITERS, withColumns } from './textColumns.js';

/** A text that holds the person, or may. */
export interface FoundText {
  resource: string;
  id: string | null;
  field: string;
  excerpt: string;
}

/** What the records are searched for, by how surely it means this person. */
export interface Search {
  /** This person and nobody else: written over wherever it stands. */
  own: PersonWords | null;
  /** A name somebody else on the books has as well: written over where the person's houses are spoken of, else told. */
  shared: PersonWords | null;
  /** A name of one word, of a place, a short number: the same, and not looked for in what the service itself composed. */
  little: PersonWords | null;
  /** Surnames, first names, names that are words of the trade: to be looked at by a person. */
  parts: PersonWords | null;
  sharedReach: { digits: string[]; emails: string[] };
}

const NOTHING = { names: [], phones: [], emails: [], words: [] };

export async function searchFor(stores: Stores, person: PersonOnBooks, near: Near): Promise<Search> {
  const { names, phones, emails, words } = person.known;
  const ownIds = [...person.clients, ...person.contacts].map((row) => String(row['id']));
  const known = names.filter((name) => name !== ERASED);
  const telling = known.filter((name) => !isOurWord(name));
  const full = telling.filter(isSeveralWords);
  const ofOthers = await namesWithin(full, (pattern) => stores.erasures.peopleLike(pattern, ownIds));
  const ofPlaces = await namesWithin(full, (pattern) => placesLike(stores, pattern, near));
  const sharedReach = await stores.erasures.sharedReach(
    phones.map(phoneDigits),
    emails.map((email) => email.toLowerCase()),
    ownIds,
  );
  const ownPhones = phones.filter((phone) => !sharedReach.digits.includes(phoneDigits(phone)));
  return {
    own: personWords({
      names: full.filter((name) => !ofOthers.has(name) && !ofPlaces.has(name)),
      phones: ownPhones.filter(isTellingNumber),
      emails: emails.filter((email) => !sharedReach.emails.includes(email.toLowerCase())),
      words,
    }),
    shared: personWords({
      ...NOTHING,
      names: full.filter((name) => ofOthers.has(name) && !ofPlaces.has(name)),
    }),
    little: personWords({
      ...NOTHING,
      names: telling.filter((name) => !isSeveralWords(name) || ofPlaces.has(name)),
      phones: ownPhones.filter((phone) => !isTellingNumber(phone)),
    }),
    parts: personWords({
      ...NOTHING,
      parts: [...nameParts(telling).filter((part) => !isOurWord(part)), ...known.filter(isOurWord)],
    }),
    sharedReach,
  };
}

/** Those of the names that stand in texts found by them. */
async function namesWithin(
  names: readonly string[],
  textsLike: (pattern: string) => Promise<string[]>,
): Promise<ReadonlySet<string>> {
  const within = new Set<string>();
  for (const name of names) {
    const words = personWords({ ...NOTHING, names: [name] });
    if (words === null) continue;
    const texts = await textsLike(words.loose);
    if (texts.some((text) => words.placesIn(text).length > 0)) within.add(name);
  }
  return within;
}

/** Names of places and of what belongs to the business, other than at the person's houses. */
async function placesLike(stores: Stores, pattern: string, near: Near): Promise<string[]> {
  const texts: string[] = [];
  for (const each of await stores.erasures.textTables()) {
    const table = withColumns(each, ['places']);
    if (table === null) continue;
    for (const row of await stores.erasures.find(table, pattern, false))
      if (!isNear(row, near)) texts.push(...Object.values(row.values).map(String));
  }
  return texts;
}

/** Kept in words, for as long as the law asks for it: not what the office took back as none. */
const mustStay = ({ table, refs }: FoundRow, keptSince: string): boolean =>
  table === 'incident' &&
  refs['withdrawn_at'] === null &&
  isKeptByLaw(refs['kind'] as IncidentKind) &&
  String(refs['happened_at'] ?? '') >= keptSince;

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

/** Whether an object inside a text speaks of the person's houses. */
function isCloseObject(object: Record<string, unknown>, near: Near): boolean {
  const { siteIds, clientIds, orderIds, lineIds, pitIds } = near;
  return Object.entries(object).some(
    ([name, id]) =>
      typeof id === 'string' &&
      /(^id|Id|_id)$/.test(name) &&
      [siteIds, clientIds, orderIds, lineIds, pitIds].some((ids) => ids.has(id)),
  );
}

export interface Texts {
  /** Rows with what each column becomes. */
  changes: { row: FoundRow; change: Record<string, unknown> }[];
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
  const all = [search.own, search.shared, search.little, search.parts];
  const pattern = [...new Set(all.flatMap((words) => words?.loose ?? []))].join('|');
  if (pattern === '') return texts;
  for (const each of await stores.erasures.textTables()) {
    const table = withColumns(each, ['people', 'places', 'things']);
    if (table === null) continue;
    for (const row of await stores.erasures.find(table, pattern, lock)) {
      const change: Record<string, unknown> = {};
      for (const [column, value] of Object.entries(row.values)) {
        const { becomes, erased, doubtful } = looked(row, column, value, search, near);
        if (mustStay(row, keptSince)) {
          if (erased !== null) texts.kept.push(found(row, column, erased));
          continue;
        }
        if (erased !== null) {
          change[column] = becomes;
          texts.erased.push(found(row, column, erased));
        }
        if (doubtful !== null) texts.toLookAt.push(found(row, column, doubtful));
      }
      if (Object.keys(change).length > 0) texts.changes.push({ row, change });
    }
  }
  return texts;
}

interface Looked {
  becomes: unknown;
  /** The first words written over, and what may mean the person, each with what stands around them. */
  erased: string | null;
  doubtful: string | null;
}

function looked(row: FoundRow, column: string, value: unknown, search: Search, near: Near): Looked {
  const { own, shared, little, parts } = search;
  const isThing = holdsOf(row.table, column) !== 'people';
  const isWriter = WRITERS.has(column);
  const overClose = !isThing && !isWriter && !isOthersOwn(row.table, column) ? [shared, little] : [];
  const isPlain = typeof value === 'string';
  const answer: Looked = { becomes: value, erased: null, doubtful: null };
  const close = isNear(row, near);
  answer.becomes = changeTexts(
    value,
    close,
    (object) => isCloseObject(object, near),
    (text, here) => {
      let left = text;
      for (const words of [...(isThing ? [] : [own]), ...(here ? overClose : [])]) {
        if (words === null) continue;
        const without = textWithout(left, words);
        if (without.places > 0) answer.erased ??= around(left, words);
        left = without.value;
      }
      if (!here && isOfPeople(row.table)) return left;
      const tellLittle = here ? !isWriter : isPlain && !isThing && !isWriter;
      const doubts = [own, shared, ...(tellLittle ? [little] : []), ...(here && !isWriter ? [parts] : [])];
      for (const words of doubts)
        if (words !== null && words.placesIn(left).length > 0) answer.doubtful ??= around(left, words);
      return left;
    },
  );
  return answer;
}

const AROUND = 40;

function around(text: string, words: PersonWords): string {
  const [from] = words.placesIn(text)[0] ?? [0];
  return text.slice(Math.max(0, from - AROUND), from + 2 * AROUND);
}

const found = ({ table, id }: FoundRow, field: string, excerpt: string): FoundText => ({
  resource: table,
  id,
  field,
  excerpt,
});

/** First day of so many years before a day. */
export const yearsBefore = (day: IsoDate, years: number): IsoDate =>
  addDays(day, -Math.round(365.25 * years));
