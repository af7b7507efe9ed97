import { addDays, daysBetween, type IsoDate, weekdayOf } from '../../domain/calendar/isoDate.js';
import { learnedFactor } from '../../domain/jetting/siteMinutes.js';
import { tankWater } from '../../domain/jetting/waterSupply.js';
import type {
  AcceptedPlace,
  CrewDay,
  Following,
  Lock,
  Order,
  OrderWindow,
} from '../../domain/routing/problem.js';
import type { TaskKind } from '../../domain/words.js';
import { type AskedKit, mustCarry } from '../../domain/work/alongKit.js';
import { type ClosedSeason, closes, type SeasonTask } from '../../domain/work/closedSeason.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { leftOutCost, waitingCost } from '../../domain/work/waitingCost.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { type Books, secondsOf } from './books.js';
import { rankOf } from './calls.js';
import type { Places } from './crewDays.js';
import type { Said } from './planTools.js';

const DAY_SECONDS = 86_400;
/** No crew stays longer at one stop; a dig of several days is several orders. */
const LONGEST_VISIT_MINUTES = 16 * 60;
/** A crew this near the plan is not told apart from it. */
const LEAST_FACTOR = 0.03;

/** An order that does not go into the search, with the reason. */
export interface LeftOutside extends Said {
  workOrderId: string;
}

/** A told day or hour that no crew can keep: the order is planned without it, and somebody phones. */
export interface ReleasedLock {
  workOrderId: string;
  promised: boolean;
  /** What keeps every crew from it. */
  because: string;
}

export interface Promised {
  workOrderId: string;
  day: IsoDate;
  from: string | null;
  to: string | null;
}

/** What the horizon looks like to an order. */
export interface Horizon {
  house: House;
  books: Books;
  settings: OwnerSettings;
  fromDay: IsoDate;
  /** First and last day planned, days without work among them. */
  span: { from: IsoDate; to: IsoDate };
  days: readonly IsoDate[];
  moveFactor: number;
  crewDays: readonly CrewDay[];
  depotOf: ReadonlyMap<string, string>;
  places: Places;
  /** Hours out of all shifts: whoever called waits, whatever the hours of the house. */
  onCall: boolean;
}

/** The order is null where nobody could drive to it at all. */
/** Null where it does not go into the question; why it goes into no plan, null: it does. */
interface Asked {
  order: Order | null;
  outside: LeftOutside | null;
}

/**
 * One open order as the search sees it, and why it is left outside.
 *
 * @param kept `standsOn`: index of the day on whose route it stands and stays although a plan would take it off;
 *   `waiting`: one that waits for a precondition is asked about all the same.
 */
export function askOf(
  horizon: Horizon,
  row: Row,
  factors: CrewFactors,
  { standsOn, waiting }: { standsOn: number | null; waiting: boolean },
): Asked {
  const { windows, closed } = windowsOf(row, horizon);
  const outside = hindranceOf(horizon, row, closed);
  const isKept =
    standsOn !== null || (waiting && outside?.code === 'waits_for_precondition' && closed === null);
  if (row['latitude'] === null || row['longitude'] === null || (outside && !isKept))
    return { order: null, outside };
  const order = orderOf(horizon, row, factors, windows);
  const shut = standsOn !== null && windows.length > 0 && !windows.some(({ day }) => day === standsOn);
  if (!shut) return { order, outside };
  const open = { day: standsOn, fromSeconds: 0, toSeconds: DAY_SECONDS - 1 };
  return { order: { ...order, windows: [...windows, open] }, outside };
}

/** What keeps the order out of every plan of these days, whatever crews there are. */
function hindranceOf({ days, fromDay }: Horizon, row: Row, closed: string[] | null): LeftOutside | null {
  const outside = (code: string, facts: Record<string, unknown>, text: string): LeftOutside => ({
    workOrderId: String(row['id']),
    code,
    facts,
    text,
  });
  const waits = row['waits_for'] as string[];
  if (waits.length > 0)
    return outside(
      'waits_for_precondition',
      { open: waits.length, kinds: waits },
      `waits for ${waits.map((kind) => kind.replaceAll('_', ' ')).join(', ')}`,
    );
  if (Number(row['minutes']) > LONGEST_VISIT_MINUTES)
    return outside(
      'longer_than_a_day',
      { minutes: Number(row['minutes']) },
      `takes ${Math.round(Number(row['minutes']) / 60)} hours: divide it into visits of a day`,
    );
  if (row['latitude'] === null || row['longitude'] === null)
    return outside('no_coordinates', {}, 'neither the site nor any other, nor a depot, has coordinates');
  const told = lockOf(row, days).day ?? promiseDay(row);
  if (told !== null && told > (days.at(-1) ?? fromDay))
    return outside('told_later', { day: told }, `told for ${told}, after the days planned`);
  if (closed !== null)
    return outside(
      'no_open_day',
      { days, because: closed },
      `none of the coming working days is open to it: ${closed.join('; ')}`,
    );
  return null;
}

function orderOf(horizon: Horizon, row: Row, factors: CrewFactors, windows: OrderWindow[]): Order {
  const { days, fromDay, settings, places } = horizon;
  const workOrderId = String(row['id']);
  const lock = lockOf(row, days);
  const told = lock.day ?? promiseDay(row);
  const visit = {
    plugChanceYear: Number(row['plug_chance_year']),
    lines: Number(row['lines']),
    promised: told !== null || promiseDay(row) !== null,
    wantedInDays: row['wanted_by'] === null ? null : daysBetween(fromDay, String(row['wanted_by'])),
  };
  const lastDay = days.length > 0 ? daysBetween(fromDay, days.at(-1) ?? fromDay) : 0;
  const { rank, worth } = rankOf(horizon.house, row, fromDay);
  const live = row['live_stop'] as LiveStop | null;
  const liveDay = live ? days.indexOf(live.day) : -1;
  const tasks = row['tasks'] as OrderTask[];
  const water = tankWater(
    Number(row['water_l']),
    Number(row['minutes']),
    row['tap'],
    largestTank(horizon.crewDays),
  );
  return {
    id: workOrderId,
    name: `order ${String(row['number'])}`,
    location: places.add(Number(row['latitude']), Number(row['longitude']), String(row['site_id'])),
    ...factors.seconds((Number(row['minutes']) + water.fetchMinutes) * 60, mainTask(tasks)),
    windows,
    needs: mustCarry(askedKit(row)),
    people: Number(row['people']),
    waterLitres: Math.round(water.litres),
    wasteLitres: Math.round(Number(row['sludge_l'])),
    waitingCost: days.map(
      (day, d) =>
        waitingCost(visit, daysBetween(fromDay, day), settings) +
        Math.round(d * settings.costs.visitMinor * worth),
    ),
    unplacedCost:
      leftOutCost(visit, lastDay, settings) +
      Math.round(settings.costs.visitMinor * settings.costs.plugVisits * worth),
    ...(rank > 0 ? { rank } : {}),
    follows: [],
    ...lock.lock,
    ...closedFor(horizon, tasks, rank > 0 ? 'called' : (live?.day ?? null)),
    ...(live && liveDay >= 0 ? { accepted: acceptedAt(horizon, row, live, liveDay) } : {}),
  };
}

/** An open order's kit with what it is for. */
export const askedKit = (row: Row): AskedKit => ({
  kit: row['kit'] as AskedKit['kit'],
  cause: row['cause'] as AskedKit['cause'],
  tasks: row['tasks'] as OrderTask[],
});

/** What moving it from where crews drive to it now costs: another hour more where somebody must be home or the crew was told its day. */
function acceptedAt(
  { house, settings: { costs, routes }, moveFactor }: Horizon,
  row: Row,
  live: LiveStop,
  day: number,
): AcceptedPlace {
  const isTold = row['access'] === 'someone_home' || live.publishedAt !== null;
  const cost = (share: number) => Math.round(costs.visitMinor * share * moveFactor);
  return {
    day,
    crewId: live.crewId,
    otherDayCost: cost(routes.otherDayShare),
    otherCrewCost: cost(routes.otherCrewShare),
    startSeconds: secondsOn(house, live.day, live.startsAt),
    otherHourCost: cost(isTold ? routes.otherHourToldShare : routes.otherHourShare),
  };
}

/** Null: no tank is counted. */
const largestTank = (crewDays: readonly CrewDay[]): number | null => {
  const tanks = crewDays.flatMap(({ tankLitres }) => tankLitres ?? []);
  return tanks.length === 0 ? null : Math.max(...tanks);
};

/** Where crews drive to it now. */
interface LiveStop {
  crewId: string;
  day: IsoDate;
  startsAt: string;
  /** When the crew was told its day; null: not yet. */
  publishedAt: string | null;
  /** Out of the shift, by whoever is on call. */
  onCall: boolean;
}

const secondsOn = ({ zone }: House, day: IsoDate, instant: string): number =>
  Math.round((Date.parse(instant) - zone.instantOf(day, 0).getTime()) / 1000);

export interface OrderTask extends SeasonTask {
  minutes: number;
}

const mainTask = (tasks: readonly OrderTask[]): TaskKind | null =>
  tasks.reduce<OrderTask | null>((main, task) => (main && main.minutes >= task.minutes ? main : task), null)
    ?.kind ?? null;

export function promiseOf(row: Row): Promised | null {
  const promise = row['promise'] as Omit<Promised, 'workOrderId'> | null;
  return promise && { workOrderId: String(row['id']), ...promise };
}

const promiseDay = (row: Row): IsoDate | null => (row['promise'] as Promised | null)?.day ?? null;

/** A person's lock, and where it is silent what the client was promised. Days that are over bind nobody. */
function lockOf(row: Row, days: readonly IsoDate[]): { lock: { lock?: Lock }; day: IsoDate | null } {
  const own = row['lock_day'] === null ? null : String(row['lock_day']);
  const promise = row['promise'] as Promised | null;
  const kept = promise && days.indexOf(promise.day) >= 0 ? promise : null;
  const day = own !== null && days.includes(own) ? own : (kept?.day ?? null);
  const past = own !== null && own < (days[0] ?? own);
  const told = kept !== null && kept.day === day ? kept : null;
  const from = (past ? null : row['lock_from']) ?? told?.from ?? null;
  const to = (past ? null : row['lock_to']) ?? told?.to ?? null;
  const lock: Lock = {
    ...(day === null ? {} : { day: days.indexOf(day) }),
    ...(past || row['lock_crew_id'] === null ? {} : { crewId: String(row['lock_crew_id']) }),
    ...(from === null ? {} : { fromSeconds: secondsOf(String(from)) }),
    ...(to === null ? {} : { toSeconds: secondsOf(String(to)) }),
    ...(past || row['lock_sequence'] === null ? {} : { sequence: Number(row['lock_sequence']) }),
  };
  return { lock: Object.keys(lock).length === 0 ? {} : { lock }, day: past ? null : own };
}

/** Windows per open day; empty: any time of any day. Or why no day at all is open. */
function windowsOf(row: Row, horizon: Horizon): { windows: OrderWindow[]; closed: string[] | null } {
  const { house, days } = horizon;
  const hours = row['hours'] as { weekday: string; from: string; to: string }[];
  const respondBy = row['respond_by'] === null ? null : new Date(String(row['respond_by']));
  // Too late to be kept: as soon as may be, whatever the hour.
  const respondDay = respondBy === null || isTooLate(respondBy, horizon) ? null : house.zone.dayOf(respondBy);
  const bounds = dayBounds(row, horizon, respondDay);
  if (horizon.onCall) return onCallWindows(respondDay === null ? null : respondBy, bounds, horizon);
  const windows: OrderWindow[] = [];
  const closed = new Set<string>();
  let free = true;
  days.forEach((day, index) => {
    const own = hours.filter(({ weekday }) => weekday === weekdayOf(day));
    const shut = bounds.find(({ from, to }) => day < from || day > to)?.because;
    if (shut !== undefined) closed.add(shut);
    else if (hours.length > 0 && own.length === 0) closed.add(`the house is open ${hoursText(hours)} only`);
    if (shut !== undefined || (hours.length > 0 && own.length === 0)) {
      free = false;
      return;
    }
    const until =
      respondBy !== null && day === respondDay
        ? Math.round((respondBy.getTime() - house.zone.instantOf(day, 0).getTime()) / 1000)
        : DAY_SECONDS - 1;
    const since = dugSince(row, horizon, day);
    if (own.length > 0 || until < DAY_SECONDS - 1 || since > 0) free = false;
    const open =
      own.length > 0
        ? own.map((w) => [secondsOf(w.from), secondsOf(w.to)] as const)
        : [[0, DAY_SECONDS - 1] as const];
    for (const [from, to] of open) {
      const [fromSeconds, toSeconds] = [Math.max(from, since), Math.min(to, until)];
      if (fromSeconds <= toSeconds) windows.push({ day: index, fromSeconds, toSeconds });
    }
    if (!windows.some((window) => window.day === index))
      closed.add(
        since > 0
          ? `its locate ticket begins on ${day} after the house shuts, or after the answer is due`
          : `the house opens after the answer is due (${hoursText(own)})`,
      );
  });
  if (windows.length === 0) return { windows, closed: [...closed] };
  return { windows: free ? [] : windows, closed: null };
}

/** Out of shifts a visit begins by the time to be there, past midnight too. */
function onCallWindows(
  respondBy: Date | null,
  bounds: ReturnType<typeof dayBounds>,
  { house, days }: Horizon,
): { windows: OrderWindow[]; closed: string[] | null } {
  const shut = days.flatMap((day) => bounds.find(({ from }) => day < from)?.because ?? []);
  if (shut.length === days.length && days.length > 0) return { windows: [], closed: shut };
  if (respondBy === null) return { windows: [], closed: null };
  const windows = days.map((day, index) => ({
    day: index,
    fromSeconds: 0,
    toSeconds: Math.round((respondBy.getTime() - house.zone.instantOf(day, 0).getTime()) / 1000),
  }));
  return { windows: windows.filter(({ toSeconds }) => toSeconds > 0), closed: null };
}

/** From when on a day its ticket lets an order dig, in seconds after midnight; zero: all day. */
function dugSince(row: Row, { house }: Horizon, day: IsoDate): number {
  const ticket = row['ticket'] as { digFrom: string | null } | null;
  if (ticket?.digFrom == null || house.zone.dayOf(new Date(ticket.digFrom)) !== day) return 0;
  return Math.ceil((Date.parse(ticket.digFrom) - house.zone.instantOf(day, 0).getTime()) / 1000);
}

const hoursText = (hours: readonly { weekday: string; from: string; to: string }[]): string =>
  hours.map(({ weekday, from, to }) => `${weekday} ${from}–${to}`).join(', ');

/** Days outside these are closed to the order whatever the hour, and why. */
function dayBounds(
  row: Row,
  horizon: Horizon,
  respondDay: IsoDate | null,
): { from: IsoDate; to: IsoDate; because: string }[] {
  const from = (day: unknown, because: (day: IsoDate) => string) =>
    day === null || day === undefined
      ? []
      : [{ from: String(day), to: LAST_DAY, because: because(String(day)) }];
  const to = (day: unknown, because: (day: IsoDate) => string) =>
    day === null || day === undefined
      ? []
      : [{ from: FIRST_DAY, to: String(day), because: because(String(day)) }];
  const before = row['predecessor'] as { number: number } | null;
  const follows = (day: IsoDate) => `not before ${day}, since it follows order ${before?.number ?? ''}`;
  // A dig stands inside the days of its locate ticket.
  const ticket = row['ticket'] as { from: IsoDate | null; to: IsoDate | null } | null;
  return [
    ...from(row['not_before'], (day) => `not before ${day}`),
    ...from(afterPredecessor(horizon.house, row), follows),
    ...from(afterPlaced(horizon, row), follows),
    ...from(ticket?.from, (day) => `its locate ticket is good from ${day} on`),
    ...to(ticket?.to, (day) => `its locate ticket is good until ${day}`),
    ...to(respondDay, (day) => `it is to be answered by ${day}`),
  ];
}

const FIRST_DAY = '0000-01-01';
const LAST_DAY = '9999-12-31';

/** Whether an answer by then lies before the first day planned. */
export const isTooLate = (respondBy: Date, { house, days }: Pick<Horizon, 'house' | 'days'>): boolean =>
  respondBy <= house.clock.now() || house.zone.dayOf(respondBy) < (days[0] ?? '');

/** First day after what it follows, where that is done or under way; null: nothing, or it is still to be placed. */
function afterPredecessor(house: House, row: Row): IsoDate | null {
  const before = row['predecessor'] as { state: string; doneAt: string | null } | null;
  const after = Number(row['follows_after_days']);
  if (before?.state === 'done' && before.doneAt !== null)
    return addDays(house.zone.dayOf(new Date(before.doneAt)), after);
  if (before?.state === 'under_way') return addDays(house.zone.dayOf(house.clock.now()), Math.max(1, after));
  return null;
}

/** First day after what it follows, where crews drive that before the days planned. */
function afterPlaced({ books, span }: Horizon, row: Row): IsoDate | null {
  const before = books.orders.find((each) => each['id'] === row['follows_id']);
  const day = (before?.['live_stop'] as { day: IsoDate } | null | undefined)?.day;
  if (day === undefined || day >= span.from) return null;
  return addDays(day, Math.max(1, Number(row['follows_after_days'])));
}

/**
 * What must come first among the orders searched, calendar days between.
 */
export function followingOf(row: Row, searched: ReadonlySet<string>): Following[] {
  if (row['follows_id'] === null || !searched.has(String(row['follows_id']))) return [];
  return [{ orderId: String(row['follows_id']), minDaysBetween: Number(row['follows_after_days']) }];
}

const closedLists = new WeakMap<Horizon, Map<string, readonly string[]>>();

/** Crew-days whose depot has a closed season for one of the tasks; orders of like tasks share one list. */
function closedFor(
  horizon: Horizon,
  tasks: readonly SeasonTask[],
  standsOn: IsoDate | 'called' | null,
): { closedCrewDays?: readonly string[] } {
  let lists = closedLists.get(horizon);
  if (!lists) {
    lists = new Map();
    closedLists.set(horizon, lists);
  }
  const key = JSON.stringify([standsOn, tasks.map(({ kind, lineKind }) => [kind, lineKind])]);
  let closed = lists.get(key);
  if (!closed) {
    const seasons = horizon.books.seasons.map(seasonOf);
    closed = horizon.crewDays
      .filter((crewDay) => {
        const day = horizon.days[crewDay.day] ?? '';
        const depotId = horizon.depotOf.get(crewDay.crewId) ?? '';
        return seasons.some((season) =>
          closes(season, tasks, day, depotId, standsOn === 'called' || day === standsOn),
        );
      })
      .map(({ id }) => id);
    lists.set(key, closed);
  }
  return closed.length === 0 ? {} : { closedCrewDays: closed };
}

const seasonOf = (row: Row): ClosedSeason => ({
  depotId: row['depot_id'] === null ? null : String(row['depot_id']),
  tasks: row['tasks'] as TaskKind[],
  outsideOnly: row['outside_only'] === true,
  fromDay: String(row['from_day']),
  toDay: String(row['to_day']),
});

/** How much longer or shorter each crew takes over a kind of visit than planned. */
export interface CrewFactors {
  seconds(planned: number, task: TaskKind | null): Pick<Order, 'serviceSeconds' | 'serviceSecondsByCrew'>;
}

export function crewFactors(taken: readonly Row[]): CrewFactors {
  const byTask = new Map<string, Map<string, { plannedMinutes: number; takenMinutes: number }[]>>();
  for (const row of taken) {
    const crews = byTask.get(String(row['kind'])) ?? new Map();
    byTask.set(String(row['kind']), crews);
    const crewId = String(row['crew_id']);
    const attempts = crews.get(crewId) ?? [];
    crews.set(crewId, attempts);
    attempts.push({
      plannedMinutes: Number(row['planned_minutes']),
      takenMinutes: Number(row['taken_minutes']),
    });
  }
  const factors = new Map(
    [...byTask].map(([task, crews]) => [
      task,
      [...crews]
        .map(([crewId, attempts]) => [crewId, learnedFactor(attempts)] as const)
        .filter(([, factor]) => Math.abs(factor - 1) >= LEAST_FACTOR),
    ]),
  );
  return {
    seconds(planned, task) {
      const own = task === null ? [] : (factors.get(task) ?? []);
      const byCrew = Object.fromEntries(own.map(([crewId, factor]) => [crewId, minutes(planned * factor)]));
      return { serviceSeconds: planned, ...(own.length === 0 ? {} : { serviceSecondsByCrew: byCrew }) };
    },
  };
}

const minutes = (seconds: number): number => 60 * Math.max(1, Math.round(seconds / 60));
