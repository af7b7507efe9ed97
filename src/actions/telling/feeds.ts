import { randomBytes } from 'node:crypto';
import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { changedEntries, type ShownVisit } from '../../domain/telling/calendarEntries.js';
import { calendarFeed } from '../../papers/calendarFeed.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import { POST } from './postStore.js';
import { hashOf } from './sendMail.js';

/** A crew looks a fortnight back and two months ahead; a site a year back. */
const CREW_DAYS = { back: 14, ahead: 60 };
const SITE_DAYS_BACK = 365;

/** A new calendar address; whoever knows it can read, until it is revoked. Only the SHA-256 of its token is kept. */
export async function createFeed(
  stores: Stores,
  wanted: { name: string; crewId: string | null; siteId: string | null },
): Promise<{ row: Row; token: string }> {
  const token = randomBytes(32).toString('base64url');
  const row = await stores.rows.insert('feed', {
    id: newId(),
    name: wanted.name,
    crew_id: wanted.crewId,
    site_id: wanted.siteId,
    hash: hashOf(token),
  });
  return { row, token };
}

export async function revokeFeed(house: House, stores: Stores, id: string): Promise<Row> {
  const feed = await stores.rows.lock('feed', id);
  if (!feed) throw new Refused({ code: 'not-found', resource: 'feed', id });
  if (feed['revoked_at'] !== null) return feed;
  return (await stores.rows.update('feed', id, { revoked_at: house.clock.now().toISOString() })) ?? feed;
}

const USED_EVERY_MS = 3_600_000;

/**
 * The calendar behind a token; null: there is none. What readers see is remembered, so that a visit keeps its event,
 * a change raises its sequence, and one that has gone stays as cancelled.
 */
export async function readFeed(house: House, token: string): Promise<string | null> {
  return house.transact(POST, async (stores) => {
    const feed = await stores.feeds.byHash(hashOf(token));
    if (!feed) return null;
    const now = house.clock.now();
    const lastUsed = feed['last_used_at'] === null ? 0 : Date.parse(String(feed['last_used_at']));
    if (now.getTime() - lastUsed > USED_EVERY_MS)
      await stores.rows.update('feed', String(feed['id']), { last_used_at: now.toISOString() });
    const isCrew = feed['crew_id'] !== null;
    const ownerId = String(feed['crew_id'] ?? feed['site_id']);
    const today = house.zone.dayOf(now);
    const sightFrom = addDays(today, -(isCrew ? CREW_DAYS.back : SITE_DAYS_BACK));
    await stores.feeds.lockCalendar(ownerId);
    const visits = isCrew
      ? await crewVisits(stores, ownerId, sightFrom, addDays(today, CREW_DAYS.ahead))
      : await siteVisits(house, stores, ownerId, sightFrom);
    const stored = await stores.feeds.entries(ownerId);
    const changed = changedEntries(stored, visits, { sightFrom, now: now.toISOString() });
    if (changed.length > 0) await stores.feeds.putEntries(ownerId, changed);
    const entries = changed.length > 0 ? await stores.feeds.entries(ownerId) : stored;
    const name = isCrew
      ? `Crew ${String(feed['crew_name'])}`
      : `Drain visits, ${String(feed['address'])}, ${String(feed['town'])}`;
    return calendarFeed(
      name,
      ownerId,
      entries.filter(({ ends }) => ends >= sightFrom),
    );
  });
}

const tasksIn = (row: Row): string =>
  [...new Set((row['tasks'] as string[] | null) ?? [])].map((kind) => kind.replaceAll('_', ' ')).join(', ');
const placeOf = (row: Row): string => `${String(row['address'])}, ${String(row['town'])}`;
const iso = (instant: unknown): string => new Date(String(instant)).toISOString();

const later = (instant: string, ms: number): string => new Date(Date.parse(instant) + ms).toISOString();

/** As it was where it is known, else as long as planned; an event without length is none to calendars. */
function timesOf(
  startedAt: unknown,
  endedAt: unknown,
  planned: { starts: string; ends: string },
): { starts: string; ends: string } {
  if (startedAt === null) return planned;
  const starts = iso(startedAt);
  const lasts =
    endedAt === null
      ? Date.parse(planned.ends) - Date.parse(planned.starts)
      : Date.parse(iso(endedAt)) - Date.parse(starts);
  return { starts, ends: later(starts, Math.max(60_000, lasts)) };
}

/** Without access notes or names: whoever finds the address of a calendar must not find a gate's code in it. */
async function crewVisits(stores: Stores, crewId: string, from: IsoDate, to: IsoDate): Promise<ShownVisit[]> {
  return (await stores.feeds.crewVisits(crewId, from, to)).map((row) => ({
    workOrderId: String(row['id']),
    state: row['published'] === true || row['started_at'] !== null ? 'confirmed' : 'tentative',
    ...timesOf(row['started_at'], row['ended_at'], {
      starts: iso(row['starts_at']),
      ends: iso(row['ends_at']),
    }),
    summary: `${String(row['number'])} ${String(row['address'])}${row['result'] === null ? '' : `: ${String(row['result']).replaceAll('_', ' ')}`}`,
    description: `${tasksIn(row)}; ${String(row['people'])} ${Number(row['people']) === 1 ? 'person' : 'people'}. Access and cautions: in the app.`,
    location: placeOf(row),
  }));
}

async function siteVisits(
  house: House,
  stores: Stores,
  siteId: string,
  since: IsoDate,
): Promise<ShownVisit[]> {
  const doneSince = house.zone.instantOf(since, 0).toISOString();
  return (await stores.feeds.siteVisits(siteId, doneSince)).map((row) => ({
    workOrderId: String(row['id']),
    description: tasksIn(row),
    location: placeOf(row),
    ...whenOf(house, row),
  }));
}

/** Done: when it was; promised: its window, or the day; planned: the day, not yet sure. */
function whenOf({ zone }: House, row: Row): Pick<ShownVisit, 'state' | 'starts' | 'ends' | 'summary'> {
  const number = `order ${String(row['number'])}`;
  if (row['order_state'] === 'done' || row['order_state'] === 'under_way') {
    const isDone = row['order_state'] === 'done';
    const planned = iso(row['started_at'] ?? row['done_at']);
    const expected = { starts: planned, ends: later(planned, Number(row['minutes']) * 60_000) };
    return {
      state: 'confirmed',
      ...timesOf(row['started_at'], row['ended_at'], expected),
      summary: `${isDone ? 'Drain visit, done' : 'Drain visit, begun'} (${number})`,
    };
  }
  const day = String(row['promised_day'] ?? row['planned_day']);
  const allDay = { starts: day, ends: addDays(day, 1) };
  if (row['promised_day'] === null)
    return { state: 'tentative', ...allDay, summary: `Drain visit, planned (${number})` };
  const at = (time: unknown) => {
    const [hours = 0, minutes = 0] = String(time).split(':').map(Number);
    return zone.instantOf(day, hours * 3600 + minutes * 60).toISOString();
  };
  const isWindow = row['from_time'] !== null && row['to_time'] !== null;
  return {
    state: 'confirmed',
    ...(isWindow ? { starts: at(row['from_time']), ends: at(row['to_time']) } : allDay),
    summary: `Drain visit (${number})`,
  };
}
