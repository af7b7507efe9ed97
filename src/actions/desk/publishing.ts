import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { type RouteChange, routeChanges, type ToldStop } from '../../domain/work/routeChanges.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import { tell } from '../telling/tell.js';

/** Visits as JSON keeps them, instants in one writing. */
const toldStops = (value: unknown): ToldStop[] =>
  ((value ?? []) as ToldStop[]).map((stop) => ({
    ...stop,
    startsAt: new Date(stop.startsAt).toISOString(),
  }));

/** What is different now from what the crew was told. */
export const changesSince = (publication: Row): RouteChange[] =>
  routeChanges(toldStops(publication['stops']), toldStops(publication['now']));

/**
 * Tells a crew its day as it stands now. Told again after changes, the changes are no news any more; they stay on
 * record.
 *
 * @throws {Refused} `not-found`; `wrong-state` for a day that is closed or over.
 */
export async function publishRoute(house: House, stores: Stores, by: string, routeId: string): Promise<Row> {
  const route = await stores.rows.lock('route', routeId);
  if (!route || route['state'] === 'proposed')
    throw new Refused({ code: 'not-found', resource: 'route', id: routeId });
  const refuse = (state: string, detail: string) =>
    new Refused({ code: 'wrong-state', resource: 'route', id: routeId, state, allowed: ['live'], detail });
  if (route['state'] !== 'live')
    throw refuse('replaced', 'Another route has taken its place: publish that one.');
  if (route['closed_at'] !== null) throw refuse('closed', 'The day is closed.');
  const today = house.zone.dayOf(house.clock.now());
  // Who was called out in the evening goes on past midnight.
  if (String(route['day']) < (route['on_call'] === true ? addDays(today, -1) : today))
    throw refuse('over', 'The day is over.');
  const now = house.clock.now().toISOString();
  const day = String(route['day']);
  const found = await publicationOf(stores, route);
  const visits = await visitsOf(stores, routeId);
  const stops = JSON.stringify(visits);
  const told = { published_at: now, published_by: by, stops };
  const publication = found
    ? await stores.rows.update('route_publication', String(found['id']), {
        ...told,
        times: Number(found['times']) + 1,
      })
    : await stores.rows.insert('route_publication', {
        id: newId(),
        crew_id: route['crew_id'],
        day,
        on_call: route['on_call'],
        ...told,
      });
  await stores.rows.update('route', routeId, { published_at: now });
  const times = Number(publication?.['times'] ?? 1);
  const crewId = String(route['crew_id']);
  await tell(stores, {
    type: 'route_published',
    subjectId: routeId,
    once: `${routeId}:${times}`,
    facts: { day, crewName: await crewName(stores, crewId), visits: visits.length, times },
    about: { routeId, crewId },
  });
  return publication ?? {};
}

/** What the crew of a route was told of its day, or of its hours on call; undefined: nothing yet. */
async function publicationOf(stores: Stores, route: Row): Promise<Row | undefined> {
  const [found] = await stores.rows.all('route_publication', [
    { column: 'crew_id', is: '=', value: route['crew_id'] },
    { column: 'day', is: '=', value: route['day'] },
    { column: 'on_call', is: '=', value: route['on_call'] },
  ]);
  return found;
}

const crewName = async (stores: Stores, crewId: string): Promise<string> =>
  String((await stores.rows.get('crew', crewId))?.['name']);

const visitsOf = async (stores: Stores, routeId: string): Promise<ToldStop[]> =>
  toldStops(await stores.desk.visitsNow(routeId));

/** Publishes all live routes of a day that nobody has published yet; how many. */
export async function publishDay(house: House, stores: Stores, by: string, day: IsoDate): Promise<number> {
  const routes = await stores.desk.routes(day, day);
  const fresh = routes.filter((row) => row['publication_id'] === null && row['closed_at'] === null);
  for (const route of fresh) await publishRoute(house, stores, by, String(route['id']));
  return fresh.length;
}

/**
 * Does what may change routes, and keeps on record what it changed of those that crews were told of; each is an event.
 */
export async function recordingChanges<T>(
  house: House,
  stores: Stores,
  change: { by: string; because: string },
  work: () => Promise<T>,
): Promise<T> {
  // Whoever was called out last evening may be out yet.
  const since = addDays(house.zone.dayOf(house.clock.now()), -1);
  const before = new Map((await stores.desk.published(since)).map((row) => [row['id'], row['now']]));
  const answer = await work();
  if (before.size === 0) return answer;
  for (const row of await stores.desk.published(since)) {
    const changes = routeChanges(toldStops(before.get(row['id'])), toldStops(row['now']));
    if (changes.length > 0)
      await noteChange(stores, row, {
        made_at: house.clock.now().toISOString(),
        made_by: change.by,
        because: change.because,
        changes,
      });
  }
  return answer;
}

/** Keeps on record what changed of a day that a crew was told of, and tells it. */
async function noteChange(
  stores: Stores,
  publication: Row,
  change: { because: string; changes: RouteChange[] } & Row,
): Promise<void> {
  const { because, changes } = change;
  const id = newId();
  await stores.rows.insert('route_change', {
    ...change,
    id,
    publication_id: publication['id'],
    changes: JSON.stringify(changes),
  });
  const crewId = String(publication['crew_id']);
  await tell(stores, {
    type: 'route_changed',
    // The route stands for its crew's day; where it has gone altogether, the publication does.
    subjectId: String(publication['route_id'] ?? publication['id']),
    once: id,
    facts: { day: String(publication['day']), crewName: await crewName(stores, crewId), because, changes },
    about: { routeId: publication['route_id'] as string | null, crewId },
  });
}

/**
 * An order is driven to no more: the crew stands still in its time. One that was tried that day stays on its route. A
 * crew that was told of the visit hears of it.
 */
export async function takeOffRoute(stores: Stores, orderId: string, because: string): Promise<void> {
  for (const stop of await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'live', is: '=', value: true },
  ])) {
    const routeId = String(stop['route_id']);
    const route = await stores.rows.get('route', routeId);
    const publication = route && (await publicationOf(stores, route));
    const before = await visitsOf(stores, routeId);
    await stores.rows.update('stop', String(stop['id']), { live: false });
    const changes = routeChanges(before, await visitsOf(stores, routeId));
    if (!route || changes.length === 0) continue;
    const seconds = (Date.parse(String(stop['ends_at'])) - Date.parse(String(stop['starts_at']))) / 1000;
    await stores.rows.update('route', routeId, {
      work_s: Math.max(0, Number(route['work_s']) - seconds),
      wait_s: Number(route['wait_s']) + seconds,
    });
    if (publication && route['closed_at'] === null)
      await noteChange(stores, { ...publication, route_id: route['id'] }, { because, changes });
    await stores.plans.endNights([routeId]);
  }
}
