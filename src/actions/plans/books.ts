import { addDays, type IsoDate, weekdayOf } from '../../domain/calendar/isoDate.js';
import type { RouteSettings } from '../../domain/work/settings.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';

/** The books as planning needs them, read once. */
export interface Books {
  crews: Row[];
  shifts: Row[];
  absences: Row[];
  /** Days on which no crew works. */
  holidays: Row[];
  memberships: Row[];
  /** Who was called out of late, and what rest that asks for. */
  callOuts: Row[];
  restHours: number;
  /** What the owner reckons routes with. */
  routes: RouteSettings;
  depots: Row[];
  kit: Row[];
  crewKit: Row[];
  seasons: Row[];
  orders: Row[];
  takenMinutes: Row[];
}

const LEARN_FROM_DAYS = 365;
/** Days looked ahead for working days: three weeks without any is a business that rests. */
const LOOK_AHEAD_DAYS = 21;

export async function openBooks(stores: Stores, today: IsoDate): Promise<Books> {
  const { rows, plans } = stores;
  const kept = [{ column: 'archived_on', is: 'null' as const }];
  const inForce = [{ column: 'withdrawn_at', is: 'null' as const }];
  return {
    crews: await rows.all('crew', kept),
    shifts: await rows.all('shift', []),
    absences: await rows.all('absence', inForce),
    holidays: await rows.all('holiday', kept),
    memberships: await rows.all('crew_membership', []),
    ...(await lateCallOuts(stores, today)),
    routes: (await ownerSettings(stores)).routes,
    depots: await rows.all('depot', kept),
    kit: await rows.all('kit_item', kept),
    crewKit: await rows.all('crew_kit', []),
    seasons: await rows.all('closed_season', inForce),
    orders: await plans.openOrders(),
    takenMinutes: await plans.takenMinutes(addDays(today, -LEARN_FROM_DAYS)),
  };
}

/** Days after which nobody rests of a call-out any more. */
const CALL_OUT_DAYS = 3;

export async function lateCallOuts(
  stores: Stores,
  today: IsoDate,
): Promise<Pick<Books, 'callOuts' | 'restHours'>> {
  const fromDay = addDays(today, -CALL_OUT_DAYS);
  const recorded = await stores.rows.all('call_out', [{ column: 'called_at', is: '>=', value: fromDay }]);
  return {
    callOuts: [...recorded, ...(await nightsOut(stores, fromDay, recorded))],
    restHours: (await ownerSettings(stores)).calls.restHours,
  };
}

/**
 * Who is out by a route driven out of the shift, as call-outs that nobody wrote down: on call in that time, or called
 * out with the crew. Back when the route brings them back, unless it is on record that they are.
 */
async function nightsOut(stores: Stores, fromDay: IsoDate, recorded: readonly Row[]): Promise<Row[]> {
  const nights = (await stores.plans.onCallRoutes(fromDay)).flatMap((route) => nightOf(route) ?? []);
  if (nights.length === 0) return [];
  const crewIds = [...new Set(nights.map(({ crewId }) => crewId))];
  const memberships = await stores.rows.all('crew_membership', [
    { column: 'crew_id', is: 'in', value: crewIds },
  ]);
  const turns = await stores.rows.all('on_call_turn', [{ column: 'to_at', is: '>=', value: fromDay }]);
  const time = (row: Row, column: string) => Date.parse(String(row[column]));
  return nights.flatMap((night) =>
    memberships
      .filter((row) => row['crew_id'] === night.crewId && holds(row, night.day))
      .flatMap(({ member_id: memberId }) => {
        const own = recorded.filter(
          (row) => row['member_id'] === memberId && time(row, 'called_at') <= night.backAt,
        );
        const isBack = own.some((row) => row['back_at'] !== null && time(row, 'back_at') >= night.lastAt);
        const goes =
          own.some((row) => time(row, 'called_at') >= night.calledAt - CALLED_BEFORE_MS) ||
          turns.some(
            (row) =>
              row['member_id'] === memberId &&
              time(row, 'from_at') < night.backAt &&
              time(row, 'to_at') > night.calledAt,
          );
        if (!goes || isBack) return [];
        return {
          id: night.id,
          member_id: memberId,
          work_order_id: null,
          called_at: new Date(night.calledAt).toISOString(),
          back_at: new Date(night.backAt).toISOString(),
        };
      }),
  );
}

/** Somebody phoned so long before the route leaves goes with it. Common practice, no source. */
const CALLED_BEFORE_MS = 2 * 3_600_000;

/** Times of a route driven out of the shift, in milliseconds; null: nobody drives anywhere on it. */
function nightOf(route: Row) {
  const visits = (route['stops'] as Row[]).filter(({ kind }) => kind === 'visit');
  if (visits.length === 0 || route['leaves_at'] === null || route['returns_at'] === null) return null;
  const at = (row: Row, column: string) => Date.parse(String(row[column]));
  const homeMs = at(route, 'returns_at') - Math.max(...visits.map((stop) => at(stop, 'ends_at')));
  const isOver = visits.every((stop) => stop['attempt_ended_at'] !== null);
  const ended = Math.max(...visits.map((stop) => at(stop, isOver ? 'attempt_ended_at' : 'ends_at')));
  return {
    id: String(route['id']),
    crewId: String(route['crew_id']),
    day: String(route['day']),
    calledAt: at(route, 'leaves_at'),
    lastAt: Math.max(...visits.map((stop) => at(stop, 'starts_at'))),
    backAt: ended + homeMs,
  };
}

/** Whether a row with from and to (open, exclusive) holds on the day. */
export const holds = (row: Row, day: IsoDate): boolean =>
  String(row['from_day']) <= day && (row['to_day'] === null || String(row['to_day']) > day);

/** The holiday on a day; null: it is none. */
export const holidayOn = ({ holidays }: Pick<Books, 'holidays'>, day: IsoDate): Row | null =>
  holidays.find((row) => row['day'] === day) ?? null;

/** The shift of a crew on a day; null: it does not work. */
export function shiftOf(
  { shifts, holidays }: Pick<Books, 'shifts' | 'holidays'>,
  crewId: unknown,
  day: IsoDate,
): Row | null {
  if (holidayOn({ holidays }, day)) return null;
  return (
    shifts.find((row) => row['crew_id'] === crewId && row['weekday'] === weekdayOf(day) && holds(row, day)) ??
    null
  );
}

/** Absences that cover the day, of one crew, person or kit item. */
export function absencesOf(
  { absences }: Pick<Books, 'absences'>,
  column: 'crew_id' | 'member_id' | 'kit_item_id',
  id: unknown,
  day: IsoDate,
): Row[] {
  return absences.filter(
    (row) => row[column] === id && String(row['from_day']) <= day && String(row['to_day']) >= day,
  );
}

/** The next days on which some crew has a shift, absent or not. */
export function workingDays(books: Books, fromDay: IsoDate, count: number): IsoDate[] {
  const days: IsoDate[] = [];
  for (let ahead = 0; days.length < count && ahead < LOOK_AHEAD_DAYS; ahead++) {
    const day = addDays(fromDay, ahead);
    if (books.crews.some((crew) => shiftOf(books, crew['id'], day))) days.push(day);
  }
  return days;
}

export function secondsOf(time: string): number {
  const [hours = 0, minutes = 0] = time.split(':').map(Number);
  return hours * 3600 + minutes * 60;
}
