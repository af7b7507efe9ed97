import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { openOrder } from '../openOrder.js';
import type { Actor, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { openBooks, workingDays } from './books.js';
import { crewCannot, unkeepable } from './keepable.js';
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
  /** Why, in the words of who locks it. */
  because?: string;
}

/** Working days ahead among which an order held to a crew or hour alone must have one. */
const DAYS_LOOKED_AT = 10;

/** A lock taken off, with what was said of it. */
export const NO_LOCK = {
  lock_day: null,
  lock_crew_id: null,
  lock_from: null,
  lock_to: null,
  lock_sequence: null,
  lock_by: null,
  locked_at: null,
  lock_because: null,
};

/**
 * Locks an order where a person wants it; without parts, to the day and crew of its live stop.
 * Nothing moves by this: the next plan keeps to it.
 */
export async function lockOrder(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  id: string,
  { because, ...ask }: LockAsk,
): Promise<Row> {
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
  const crew = ask.crewId === undefined ? null : await knownCrew(stores, ask.crewId);
  if (ask.day !== undefined && ask.day < today)
    throw ruleBroken('lock', '#/day', `${ask.day} is over`, `a day from ${today} on`);
  if (ask.from !== undefined && ask.to !== undefined && ask.from > ask.to)
    throw ruleBroken('lock', '#/to', `${ask.to} is before ${ask.from}`, `a time from ${ask.from} on`);
  if (!nothingSaid) await refuseUnkeepable(stores, order, crew, ask, today);
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
    lock_by: actor.name,
    locked_at: house.clock.now().toISOString(),
    lock_because: because ?? null,
  };
  if (stop) await stores.rows.update('stop', String(stop['id']), { locked: true });
  return (await stores.rows.update('work_order', id, change)) ?? order;
}

/** A lock no plan could keep is refused when it is said, not told as broken afterwards. */
async function refuseUnkeepable(
  stores: Stores,
  order: Row,
  crew: Row | null,
  ask: LockAsk,
  today: IsoDate,
): Promise<void> {
  const books = await openBooks(stores, today);
  const site = await stores.rows.get('site', String(order['site_id']));
  const hours = (site?.['hours'] ?? []) as { weekday: string; from: string; to: string }[];
  const told = { from: ask.from ?? null, to: ask.to ?? null };
  const days = ask.day === undefined ? workingDays(books, today, DAYS_LOOKED_AT) : [ask.day];
  const faults = days.map(
    (day) => unkeepable(books, hours, { day, ...told }) ?? (crew && crewCannot(books, crew, order, day)),
  );
  const [first] = faults;
  if (!first || faults.some((fault) => fault === null)) return;
  const field = { day: 'day', hours: ask.from === undefined ? 'to' : 'from', crew: 'crewId' }[first.part];
  throw ruleBroken(
    'lock',
    `#/${ask.day === undefined && first.part === 'day' ? 'crewId' : field}`,
    first.detail,
    first.remedy,
  );
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
  return (await stores.rows.update('work_order', id, NO_LOCK)) ?? order;
}
