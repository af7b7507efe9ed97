import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { secondsOf } from './books.js';
import type { Promised } from './orderAsks.js';
import type { Question } from './problem.js';

/** A promise that a plan does not keep, and whom to tell. */
export interface ToPhone {
  workOrderId: string;
  number: number;
  address: string;
  town: string;
  promised: { day: IsoDate; from: string | null; to: string | null };
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

/** Promises of the days that are broken by where their orders stand. */
export async function promisesToPhone(
  house: House,
  stores: Stores,
  question: Question,
  placeOf: ReadonlyMap<string, PlannedPlace>,
  reasonOf: ReadonlyMap<string, string>,
): Promise<ToPhone[]> {
  const broken = question.promises.filter((promise) => !isKept(promise, placeOf.get(promise.workOrderId)));
  if (broken.length === 0) return [];
  const ids = broken.map(({ workOrderId }) => workOrderId);
  const names = await stores.plans.orderNames(ids);
  const contacts = await stores.plans.contactsOf(ids);
  return names.map((row) => {
    const id = String(row['id']);
    const promise = broken.find(({ workOrderId }) => workOrderId === id);
    if (!promise) throw new RangeError(`order ${id} has no promise`);
    const place = placeOf.get(id);
    return {
      workOrderId: id,
      number: Number(row['number']),
      address: String(row['address']),
      town: String(row['town']),
      promised: { day: promise.day, from: promise.from, to: promise.to },
      planned: place
        ? {
            day: place.day,
            crewId: place.crewId,
            startsAt: house.zone.instantOf(place.day, place.startSeconds).toISOString(),
          }
        : null,
      because: reasonOf.get(id) ?? whyBroken(question, id, place),
      contacts: contacts
        .filter((contact) => contact['work_order_id'] === id)
        .map((contact) => ({
          name: String(contact['name']),
          role: String(contact['role']),
          phone: String(contact['phone']),
          language: contact['language'] === null ? null : String(contact['language']),
        })),
    };
  });
}

/** Why a promise is not kept where no other reason is known: a lock against it, or no able crew. */
function whyBroken(question: Question, orderId: string, place: PlannedPlace | undefined): string {
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

function isKept(promise: Promised, place: PlannedPlace | undefined): boolean {
  if (!place || place.day !== promise.day) return false;
  const from = promise.from === null ? -Infinity : secondsOf(promise.from);
  const to = promise.to === null ? Infinity : secondsOf(promise.to);
  return place.startSeconds >= from && place.startSeconds <= to;
}
