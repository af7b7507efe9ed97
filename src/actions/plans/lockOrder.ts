import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { openOrder } from '../openOrder.js';
import type { Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { type Books, holidayOn, openBooks, workingDays } from './books.js';
import { knownCrew } from './knownCrew.js';

/** Parts of an order's place that must be kept; absent parts are free. */
export interface LockAsk {
  day?: IsoDate;
  crewId?: string;
  /** Work starts inside this time of day, `HH:MM`. */
  from?: string;
  to?: string;
  /** Keep its place in the sequence of its live route. */
  sequence?: boolean;
}

const PARTS = ['lock_day', 'lock_crew_id', 'lock_from', 'lock_to', 'lock_sequence'] as const;

/**
 * Locks an order where a person wants it; without parts, to the day and crew of its live stop.
 * Nothing moves by this: the next plan keeps to it.
 */
export async function lockOrder(house: House, stores: Stores, id: string, ask: LockAsk): Promise<Row> {
  const order = await openOrder(stores, id);
  const [stop] = await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'live', is: '=', value: true },
  ]);
  const route = stop ? await stores.rows.get('route', String(stop['route_id'])) : null;
  const nothingSaid = Object.keys(ask).length === 0;
  if (route === null && (nothingSaid || ask.sequence === true))
    throw ruleBroken('lock', '#/day', 'the order is on no route to be locked to', 'give a day or a crew');
  const today = house.zone.dayOf(house.clock.now());
  if (ask.crewId !== undefined) await knownCrew(stores, ask.crewId);
  if (ask.day !== undefined && ask.day < today)
    throw ruleBroken('lock', '#/day', `${ask.day} is over`, `a day from ${today} on`);
  if (ask.day !== undefined) refuseIdleDay(await openBooks(stores, today), ask.day);
  if (ask.from !== undefined && ask.to !== undefined && ask.from > ask.to)
    throw ruleBroken('lock', '#/to', `${ask.to} is before ${ask.from}`, `a time from ${ask.from} on`);
  const kept = nothingSaid || ask.sequence === true;
  if (ask.sequence === true && route && !sameRoute(route, ask))
    throw ruleBroken(
      'lock',
      '#/sequence',
      'its place in the sequence is that of its live route',
      'the day and crew of that route, or leave them out',
    );
  const change = {
    lock_day: ask.day ?? (kept ? route?.['day'] : null) ?? null,
    lock_crew_id: ask.crewId ?? (kept ? route?.['crew_id'] : null) ?? null,
    lock_from: ask.from ?? null,
    lock_to: ask.to ?? null,
    lock_sequence: ask.sequence === true ? Number(stop?.['position']) : null,
  };
  if (stop) await stores.rows.update('stop', String(stop['id']), { locked: true });
  return (await stores.rows.update('work_order', id, change)) ?? order;
}

function refuseIdleDay(books: Books, day: IsoDate): void {
  if (workingDays(books, day, 1)[0] === day) return;
  const holiday = holidayOn(books, day);
  const why = holiday ? ` (${String(holiday['name'])})` : '';
  throw ruleBroken('lock', '#/day', `no crew works on ${day}${why}`, 'a day on which a crew has a shift');
}

const sameRoute = (route: Row, ask: LockAsk): boolean =>
  (ask.day === undefined || ask.day === route['day']) &&
  (ask.crewId === undefined || ask.crewId === route['crew_id']);

export async function unlockOrder(stores: Stores, id: string): Promise<Row> {
  const order = await openOrder(stores, id);
  for (const stop of await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'live', is: '=', value: true },
  ]))
    await stores.rows.update('stop', String(stop['id']), { locked: false });
  return (
    (await stores.rows.update('work_order', id, Object.fromEntries(PARTS.map((part) => [part, null])))) ??
    order
  );
}
