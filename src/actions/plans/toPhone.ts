import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { standingOfPromise } from '../../domain/work/promiseKept.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { holidayOn } from './books.js';
import { byText, callerContact, instantText, rankOf } from './calls.js';
import type { Promised } from './orderAsks.js';
import type { Question } from './problem.js';

/** A promise that a plan does not keep, or a call that nobody answers in time, and whom to tell. */
export interface ToPhone {
  workOrderId: string;
  number: number;
  address: string;
  town: string;
  /** Null: a call, to be answered by `respondBy`. */
  promised: { day: IsoDate; from: string | null; to: string | null } | null;
  respondBy: string | null;
  /** Where it stands instead; null: nowhere. */
  planned: { day: IsoDate; crewId: string; startsAt: string } | null;
  because: string;
  contacts: { name: string; role: string; phone: string; language: string | null }[];
}

export interface PlannedPlace {
  crewId: string;
  day: IsoDate;
  startSeconds: number;
}

/**
 * Calls that nobody answers in time, most urgent first, then promises that are broken by where their orders stand.
 *
 * @param calls Orders among which calls are looked for.
 */
export async function whomToPhone(
  house: House,
  stores: Stores,
  question: Question,
  calls: readonly Row[],
  placeOf: ReadonlyMap<string, PlannedPlace>,
  reasonOf: ReadonlyMap<string, string>,
): Promise<ToPhone[]> {
  const missed = missedCalls(house, question, calls, placeOf).map((row) => String(row['id']));
  const broken = new Map(
    question.promises
      .filter((promise) => !isKept(promise, placeOf.get(promise.workOrderId)))
      .map((promise) => [promise.workOrderId, promise]),
  );
  const ids = [...new Set([...missed, ...broken.keys()])];
  if (ids.length === 0) return [];
  const rows = await stores.plans.orderNames(ids);
  const contacts = await stores.plans.contactsOf(ids);
  const rowOf = (id: string): Row[] => rows.filter((row) => row['id'] === id);
  const promisedOnly = rows.filter((row) => !missed.includes(String(row['id'])));
  return [...missed.flatMap(rowOf), ...promisedOnly].map((row): ToPhone => {
    const id = String(row['id']);
    const promise = broken.get(id);
    const isMissed = missed.includes(id);
    const place = placeOf.get(id);
    return {
      workOrderId: id,
      number: Number(row['number']),
      address: String(row['address']),
      town: String(row['town']),
      promised: promise ? { day: promise.day, from: promise.from, to: promise.to } : null,
      respondBy: isMissed ? new Date(String(row['respond_by'])).toISOString() : null,
      planned: place
        ? {
            day: place.day,
            crewId: place.crewId,
            startsAt: house.zone.instantOf(place.day, place.startSeconds).toISOString(),
          }
        : null,
      because:
        reasonOf.get(id) ??
        (isMissed ? whyMissed(house, row, place) : whyBroken(question, promise, id, place)),
      contacts: contactsOf(row, contacts),
    };
  });
}

/** Calls of the days planned without a crew there by their time. */
function missedCalls(
  house: House,
  { books, days }: Pick<Question, 'books' | 'days'>,
  calls: readonly Row[],
  placeOf: ReadonlyMap<string, PlannedPlace>,
): Row[] {
  const [today] = days;
  const lastDay = days.at(-1);
  if (today === undefined || lastDay === undefined) return [];
  const open = new Set(books.orders.filter((row) => row['state'] !== 'under_way').map((row) => row['id']));
  return calls
    .filter((row) => open.has(row['id']) && row['respond_by'] !== null)
    .filter((row) => {
      const by = new Date(String(row['respond_by']));
      const place = placeOf.get(String(row['id']));
      if (!place) return house.zone.dayOf(by) <= lastDay;
      return house.zone.instantOf(place.day, place.startSeconds) > by;
    })
    .map((row) => ({ row, rank: rankOf(house, row, today).rank }))
    .sort((a, b) => b.rank - a.rank || Number(a.row['number']) - Number(b.row['number']))
    .map(({ row }) => row);
}

const whyMissed = (house: House, row: Row, place: PlannedPlace | undefined): string =>
  place
    ? `comes at ${instantText(house, house.zone.instantOf(place.day, place.startSeconds))}, to be answered by ${byText(house, row)}`
    : `no crew can be there by ${byText(house, row)}`;

/** The caller first, then the contacts of the site. */
function contactsOf(row: Row, contacts: readonly Row[]): ToPhone['contacts'] {
  const caller = callerContact(row);
  const own = contacts
    .filter((contact) => contact['work_order_id'] === row['id'] && contact['phone'] !== caller?.phone)
    .map((contact) => ({
      name: String(contact['name']),
      role: String(contact['role']),
      phone: String(contact['phone']),
      language: contact['language'] === null ? null : String(contact['language']),
    }));
  return caller ? [caller, ...own] : own;
}

/** Why a promise is not kept where no other reason is known: a lock against it, or no able crew. */
function whyBroken(
  question: Question,
  promise: Promised | undefined,
  orderId: string,
  place: PlannedPlace | undefined,
): string {
  const holiday = promise && holidayOn(question.books, promise.day);
  if (holiday) return `no crew works on ${promise.day}: ${String(holiday['name'])}`;
  const released = question.released.find(({ workOrderId }) => workOrderId === orderId);
  if (released) return released.because;
  const row = question.books.orders.find((each) => each['id'] === orderId);
  const lock = [
    row?.['lock_day'] ? `on ${String(row['lock_day'])}` : '',
    row?.['lock_from'] ? `from ${String(row['lock_from'])}` : '',
    row?.['lock_to'] ? `to ${String(row['lock_to'])}` : '',
  ].filter((part) => part !== '');
  if (lock.length > 0) return `locked by a person ${lock.join(' ')}, against what was promised`;
  return place ? 'moved' : 'not placed';
}

const isKept = (promise: Promised, place: PlannedPlace | undefined): boolean =>
  place !== undefined &&
  standingOfPromise(promise, { day: place.day, seconds: place.startSeconds }) === 'kept';
