import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { CrewDay } from '../../domain/routing/problem.js';
import { isCalledOut } from '../../domain/work/onCall.js';
import { turnOf, turnsOf } from '../desk/onCallRota.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { absencesOf, type Books, holds, secondsOf, shiftOf } from './books.js';
import { crewDayId, overtimePerHourOf, type Places, peopleOn, tanksOf } from './crewDays.js';
import { crewsOut } from './crewsOut.js';
import { type RouteProgress, routeProgress } from './dayProgress.js';

/** Somebody of a crew who can be phoned out of shifts. */
export interface AtHand {
  memberId: string;
  name: string;
  phone: string | null;
  /** Its turn to be called; null: called out without one. */
  turn: number | null;
  calledOut: boolean;
}

export interface NextShift {
  day: IsoDate;
  /** Instants in milliseconds. */
  from: number;
  to: number;
  /** What stands on its route. */
  visits: { workOrderId: string; number: number; startsAt: number }[];
}

/** A crew that somebody on call, or called out, belongs to: its hours out of the shift. */
export interface OnCallCrew {
  crew: Row;
  day: IsoDate;
  /** From when on, in milliseconds. */
  from: number;
  /** Until when somebody of it is on call; null: nobody is, it is out already. */
  until: number | null;
  people: AtHand[];
  /** The rest of its people. */
  others: Pick<AtHand, 'name' | 'phone'>[];
  nextShift: NextShift | null;
  /** What it drives out of the shift already. */
  progress: RouteProgress | undefined;
  isHome: boolean;
}

/** Days looked ahead for the next shift: after a week everybody has rested. */
const LOOK_AHEAD_DAYS = 7;

/**
 * Crews that can be sent out of their shift: somebody of them is on call before `until`, was called out, or they are out
 * on call already. Who is at work in its shift is none of them: its route is changed.
 */
export async function onCallCrews(
  house: House,
  stores: Stores,
  books: Books,
  until: number,
): Promise<OnCallCrew[]> {
  const now = house.clock.now().getTime();
  const today = house.zone.dayOf(house.clock.now());
  const turns = (await turnsOf(stores, { from: now, to: Math.max(until, now + 1) })).map(turnOf);
  const called = (await stores.rows.all('call_out', [{ column: 'back_at', is: 'null' }])).filter((row) =>
    isCalledOut({ calledAt: Date.parse(String(row['called_at'])), backAt: null }, now),
  );
  const nights = await openNights(house, stores, books, today, now);
  const members = await stores.rows.all('member', []);
  const onRoad = await crewsOut(house, stores, books);
  const found: OnCallCrew[] = [];
  for (const crew of books.crews) {
    const night = nights.get(crew['id']);
    const day = night?.day ?? today;
    const own = books.memberships.filter((row) => row['crew_id'] === crew['id'] && holds(row, day));
    const people = own.flatMap(({ member_id: id }): (AtHand & { from: number; until: number })[] => {
      if (absencesOf(books, 'member_id', id, day).length > 0) return [];
      const turn = turns.filter(({ memberId }) => memberId === id).sort((a, b) => a.from - b.from)[0];
      const out = called.some((row) => row['member_id'] === id) || isOutWith(books, id, night);
      if (!turn && !out) return [];
      return [
        {
          ...nameOf(members, id),
          memberId: String(id),
          turn: turn?.turn ?? null,
          calledOut: out,
          from: out ? now : Math.max(now, turn?.from ?? now),
          until: turn?.to ?? now,
        },
      ];
    });
    if (people.length === 0 && !night) continue;
    if (!night && (isAtWork(house, books, crew, today, now) || onRoad.has(String(crew['id'])))) continue;
    const isAway = absencesOf(books, 'crew_id', crew['id'], day).some(
      (row) =>
        row['people'] === null && (row['back_at'] === null || Date.parse(String(row['back_at'])) > now),
    );
    if (isAway) continue;
    const from = Math.min(...people.map((each) => each.from), night ? now : Infinity);
    const atHand = new Set(people.map(({ memberId }) => memberId));
    found.push({
      crew,
      day,
      from,
      until: people.length === 0 ? null : Math.max(...people.map((each) => each.until)),
      people: people
        .sort((a, b) => Number(b.calledOut) - Number(a.calledOut) || (a.turn ?? 99) - (b.turn ?? 99))
        .map(({ from: _from, until: _until, ...each }) => each),
      others: own
        .filter((row) => !atHand.has(String(row['member_id'])))
        .filter((row) => absencesOf(books, 'member_id', row['member_id'], day).length === 0)
        .map((row) => nameOf(members, row['member_id'])),
      nextShift: await nextShiftOf(house, stores, books, String(crew['id']), from),
      progress: night?.progress,
      isHome: night?.isHome ?? false,
    });
  }
  // Of two whose turn it is one after the other, whose turn it is now.
  return found.sort((a, b) => (a.people[0]?.turn ?? 99) - (b.people[0]?.turn ?? 99) || a.from - b.from);
}

/** On the road by a route out of the shift, whoever's turn it is by now. */
const isOutWith = ({ callOuts }: Books, memberId: unknown, night: OpenNight | undefined): boolean =>
  night !== undefined &&
  !night.isHome &&
  callOuts.some((row) => row['member_id'] === memberId && row['id'] === night.progress.route['id']);

const nameOf = (members: readonly Row[], id: unknown): Pick<AtHand, 'name' | 'phone'> => {
  const member = members.find((row) => row['id'] === id);
  return {
    name: String(member?.['name'] ?? ''),
    phone: member?.['phone'] == null ? null : String(member['phone']),
  };
};

function isAtWork(house: House, books: Books, crew: Row, today: IsoDate, now: number): boolean {
  const shift = shiftOf(books, crew['id'], today);
  if (!shift) return false;
  const at = (time: unknown) => house.zone.instantOf(today, secondsOf(String(time))).getTime();
  return at(shift['starts_at']) <= now && now < at(shift['ends_at']);
}

interface OpenNight {
  day: IsoDate;
  progress: RouteProgress;
  isHome: boolean;
}

/** Routes out of shifts that a call can still be added to: today's, and last evening's whose crew is out yet. */
async function openNights(
  house: House,
  stores: Stores,
  books: Books,
  today: IsoDate,
  now: number,
): Promise<Map<unknown, OpenNight>> {
  const nights = new Map<unknown, OpenNight>();
  for (const route of await stores.plans.onCallRoutes(addDays(today, -1))) {
    const depot = books.depots.find((row) => row['id'] === route['depot_id']);
    if (route['closed_at'] !== null || !depot) continue;
    const day = String(route['day']);
    const at = { latitude: Number(depot['latitude']), longitude: Number(depot['longitude']) };
    const progress = routeProgress(house, day, route, at);
    const isHome = progress.visitsLeft === 0 && Date.parse(String(route['returns_at'])) <= now;
    if (isHome && day < today) continue;
    // Who went out last evening and is out yet goes on by that route.
    if (!nights.has(route['crew_id']) || nights.get(route['crew_id'])?.isHome)
      nights.set(route['crew_id'], { day, progress, isHome });
  }
  return nights;
}

async function nextShiftOf(
  house: House,
  stores: Stores,
  books: Books,
  crewId: string,
  after: number,
): Promise<NextShift | null> {
  const first = house.zone.dayOf(new Date(after));
  for (let ahead = 0; ahead <= LOOK_AHEAD_DAYS; ahead++) {
    const day = addDays(first, ahead);
    const shift = shiftOf(books, crewId, day);
    const isAway = absencesOf(books, 'crew_id', crewId, day).some((row) => row['people'] === null);
    if (!shift || isAway) continue;
    const at = (time: unknown) => house.zone.instantOf(day, secondsOf(String(time))).getTime();
    const [from, to] = [at(shift['starts_at']), at(shift['ends_at'])];
    if (from <= after) continue;
    const route = (await stores.plans.liveRoutes(day, day)).find((row) => row['crew_id'] === crewId);
    const visits = ((route?.['stops'] ?? []) as Row[])
      .filter((stop) => stop['kind'] === 'visit' && stop['live'] === true)
      .map((stop) => ({
        workOrderId: String(stop['work_order_id']),
        number: Number(stop['number']),
        startsAt: Date.parse(String(stop['starts_at'])),
      }));
    return { day, from, to, visits };
  }
  return null;
}

/**
 * A crew's hours on call as the search sees them: from the call, or from when it is free of the one before, all of it
 * overtime, without the breaks of a shift; from its depot, or from where it is.
 */
export function onCallDayOf(
  house: House,
  books: Books,
  { crew, day, from, until, progress, isHome }: OnCallCrew,
  index: number,
  depotAt: ReadonlyMap<unknown, number>,
  places: Places,
): CrewDay | null {
  const people = peopleOn(books, crew, day);
  const depot = depotAt.get(crew['depot_id']);
  const endDepot = depotAt.get(crew['end_depot_id'] ?? crew['depot_id']) ?? depot;
  if (people <= 0 || depot === undefined || endDepot === undefined) return null;
  const midnight = house.zone.instantOf(day, 0).getTime();
  const secondsAt = (instant: number) => Math.round((instant - midnight) / 1000);
  const position = isHome ? null : (progress?.position ?? null);
  const start = Math.max(secondsAt(from), position?.freeAtSeconds ?? 0);
  // Earlier work of the night counts on: out yet, the time since; home again, what that was.
  const before = Number(progress?.route['overtime_s'] ?? 0);
  const isUnderWay = position !== null || isHome;
  const back = secondsAt(Date.parse(String(progress?.route['returns_at'])));
  const paidFrom = isUnderWay ? Math.max(0, (isHome ? start : back) - before) : start;
  const { kit, tankLitres, wasteLitres } = tanksOf(books, crew, day);
  return {
    id: crewDayId(crew['id'], day),
    crewId: String(crew['id']),
    crewName: String(crew['name']),
    day: index,
    startLocation: depot,
    endLocation: endDepot,
    shiftStartSeconds: paidFrom,
    shiftEndSeconds: paidFrom,
    overtimeSeconds: Math.max(0, secondsAt(until ?? from) - paidFrom),
    overtimePerHour: overtimePerHourOf(books, crew),
    breaks: [],
    kit,
    people,
    tankLitres,
    wasteLitres,
    useCost: 0,
    ...(isUnderWay
      ? {
          underWay: {
            location: position ? places.add(position.at.latitude, position.at.longitude) : depot,
            freeAtSeconds: start,
            tankLitresLeft: Math.max(0, (tankLitres ?? 0) - Math.round(position?.waterLitresUsed ?? 0)),
            wasteLitresOnBoard: Math.min(wasteLitres ?? 0, Math.round(position?.wasteLitresOnBoard ?? 0)),
          },
        }
      : {}),
  };
}
