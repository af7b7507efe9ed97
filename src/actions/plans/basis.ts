import { mayTake } from '../../domain/routing/ability.js';
import type { PlannedRoute } from '../../domain/routing/plan.js';
import type { CrewDay, Order } from '../../domain/routing/problem.js';
import type { Row } from '../ports.js';
import type { ChangeSaid } from './changesSaid.js';
import { crewDayId } from './crewDays.js';
import type { Said } from './planTools.js';
import type { Question } from './problem.js';

/** What a proposal rests on: of each order and crew-day it touches the facts it was planned with. */
export interface Basis {
  orders: Record<string, { name: string; facts: Facts }>;
  crewDays: Record<string, { name: string; facts: Facts }>;
  /** Closed seasons and rain in force, by id. */
  seasons?: Seasons;
  /** The shared kit that a crew-day fetches. */
  sharedKit?: Record<string, readonly SharedItem[]>;
  /** Why the plan changes what it changes, by work order. */
  because?: Record<string, ChangeSaid>;
  /** Live route ids by crew-day. */
  live: Record<string, string>;
}

type Facts = Record<string, unknown>;

type Seasons = Record<string, SeasonFacts>;

interface SharedItem {
  id: string;
  name: string;
}

interface SeasonFacts {
  name: string;
  fromDay: string;
  toDay: string;
}

/** The basis of a plan of these routes, which touches these orders. */
export function basisOf(
  question: Question,
  routes: readonly PlannedRoute[],
  orderIds: ReadonlySet<string>,
): Basis {
  const kitName = (id: string) => String(question.books.kit.find((item) => item['id'] === id)?.['name']);
  const sharedKit = Object.fromEntries(
    routes.map((route) => [route.crewDayId, route.sharedKitIds.map((id) => ({ id, name: kitName(id) }))]),
  );
  const orders = question.problem.orders.filter(({ id }) => orderIds.has(id));
  const crewDays = question.problem.crewDays.filter(({ id }) => sharedKit[id] !== undefined);
  return {
    orders: Object.fromEntries(
      orders.map((order) => [order.id, { name: order.name ?? order.id, facts: orderFacts(question, order) }]),
    ),
    crewDays: Object.fromEntries(
      crewDays.map((crewDay) => [
        crewDay.id,
        { name: nameOf(question, crewDay), facts: crewDayFacts(question, crewDay) },
      ]),
    ),
    seasons: seasonsOf(question),
    sharedKit,
    live: Object.fromEntries(
      question.live.map(({ route }) => [
        crewDayId(route['crew_id'], String(route['day'])),
        String(route['id']),
      ]),
    ),
  };
}

const seasonsOf = ({ books, days }: Question): Seasons =>
  Object.fromEntries(
    books.seasons
      .filter((row) => days.some((day) => String(row['from_day']) <= day && String(row['to_day']) >= day))
      .map((row) => [
        String(row['id']),
        { name: String(row['reason']), fromDay: String(row['from_day']), toDay: String(row['to_day']) },
      ]),
  );

const nameOf = (question: Question, crewDay: CrewDay): string =>
  `${crewDay.crewName ?? crewDay.crewId} on ${question.problem.days[crewDay.day] ?? ''}`;

const pointOf = (question: Question, location: number): string => {
  const point = question.places.points[location];
  return point ? `${point.latitude},${point.longitude}` : '';
};

const CLOSED = 'closed season';

const orderFacts = (question: Question, order: Order): Facts => ({
  place: pointOf(question, order.location),
  minutes: order.serviceSeconds / 60,
  hours: order.windows,
  kit: order.needs,
  people: order.people,
  'what it follows': order.follows,
  lock: order.lock ?? null,
  [CLOSED]: order.closedCrewDays ?? null,
});

/** Where a crew under way is, when it is free and has rested changes by the minute: it is no part of the basis. */
const crewDayFacts = (question: Question, crewDay: CrewDay): Facts => ({
  start: pointOf(question, crewDay.startLocation),
  end: pointOf(question, crewDay.endLocation),
  ...(crewDay.underWay
    ? {}
    : {
        'start of shift': clockText(crewDay.shiftStartSeconds),
        breaks: crewDay.breaks,
        'minutes of overtime': crewDay.overtimeSeconds / 60,
      }),
  'end of shift': clockText(crewDay.shiftEndSeconds),
  kit: crewDay.kit,
  people: crewDay.people,
  'litres of water': crewDay.tankLitres,
  'litres of waste': crewDay.wasteLitres,
});

const clockText = (seconds: number): string =>
  `${Math.floor(seconds / 3600)}:${String(Math.floor(seconds / 60) % 60).padStart(2, '0')}`;

/** What has changed of the things a plan rests on, in sentences; empty: it still holds. */
export function changedSince(basis: Basis, now: Question): Said[] {
  const { orders, crewDays } = now.problem;
  const changed: Said[] = [];
  let closed = 0;
  for (const [id, then] of Object.entries(basis.orders)) {
    const order = orders.find((each) => each.id === id);
    if (order) {
      const facts = orderFacts(now, order);
      // Told once for all orders, by what was reported.
      if (!same(then.facts[CLOSED], facts[CLOSED])) closed++;
      changed.push(
        ...factsChanged('order_changed', { orderId: id }, then, { ...facts, [CLOSED]: then.facts[CLOSED] }),
      );
    } else
      changed.push({ code: 'order_gone', facts: { orderId: id }, text: `${then.name} ${whyGone(now, id)}` });
  }
  if (closed > 0) changed.push(...seasonsChanged(basis, now, closed));
  for (const [id, then] of Object.entries(basis.crewDays)) {
    const crewDay = crewDays.find((each) => each.id === id);
    const facts = { crewDayId: id };
    if (crewDay) changed.push(...factsChanged('crew_changed', facts, then, crewDayFacts(now, crewDay)));
    else changed.push({ code: 'crew_gone', facts, text: `${then.name} does not work any more` });
    if (crewDay) changed.push(...sharedKitGone(now, crewDay, then.name, basis.sharedKit?.[id] ?? []));
  }
  for (const { route } of now.live) {
    const id = crewDayId(route['crew_id'], String(route['day']));
    if (basis.live[id] === String(route['id'])) continue;
    changed.push({
      code: 'route_changed',
      facts: { routeId: route['id'] },
      text: `the route of ${String(route['crew_name'])} on ${String(route['day'])} has been changed`,
    });
  }
  return changed;
}

/** Shared kit that a crew was to fetch and cannot any more. */
function sharedKitGone(
  { problem }: Question,
  crewDay: CrewDay,
  crewName: string,
  items: readonly SharedItem[],
): Said[] {
  const there = new Set(problem.sharedKit.filter((item) => mayTake(item, crewDay)).map(({ id }) => id));
  return items
    .filter(({ id }) => !there.has(id))
    .map(({ id, name }) => ({
      code: 'shared_kit_gone',
      facts: { kitItemId: id, crewDayId: crewDay.id },
      text: `${crewName}: ${name} cannot be fetched any more`,
    }));
}

/** Which season or rain came or went since. */
function seasonsChanged({ seasons: then = {} }: Basis, now: Question, orders: number): Said[] {
  const present = seasonsOf(now);
  const touches = `it touches ${orders} ${orders === 1 ? 'order' : 'orders'} of the plan`;
  const daysOf = ({ fromDay, toDay }: SeasonFacts) =>
    fromDay === toDay ? `for ${fromDay}` : `from ${fromDay} to ${toDay}`;
  const differing = (one: Seasons, other: Seasons) =>
    Object.entries(one).filter(([id, season]) => !same(other[id], season));
  const begun = differing(present, then).map(([id, season]) => ({
    code: 'closed_season_begun',
    facts: { closedSeasonId: id, orders },
    text: `${season.name} was reported ${daysOf(season)}: ${touches}`,
  }));
  const ended = differing(then, present)
    .filter(([id]) => present[id] === undefined)
    .map(([id, season]) => ({
      code: 'closed_season_ended',
      facts: { closedSeasonId: id, orders },
      text: `${season.name} ${daysOf(season)} was taken back: ${touches}`,
    }));
  const said = [...begun, ...ended];
  if (said.length > 0) return said;
  return [{ code: 'closed_season_changed', facts: { orders }, text: `a closed season changed: ${touches}` }];
}

function factsChanged(code: string, facts: Facts, then: { name: string; facts: Facts }, now: Facts): Said[] {
  const keys = Object.keys(now).filter((key) => key in then.facts && !same(then.facts[key], now[key]));
  if (keys.length === 0) return [];
  const text = `${then.name}: ${keys.map((key) => difference(key, then.facts[key], now[key])).join(', ')}`;
  return [{ code, facts: { ...facts, changed: keys }, text }];
}

const plainOf = (value: unknown): string => JSON.stringify(value, keysSorted);

/** jsonb keeps keys in an order of its own. */
const keysSorted = (_: string, value: unknown): unknown =>
  typeof value === 'object' && value !== null && !Array.isArray(value)
    ? Object.fromEntries(Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1)))
    : value;

const same = (a: unknown, b: unknown): boolean => plainOf(a) === plainOf(b);

const difference = (key: string, then: unknown, now: unknown): string =>
  isPlain(then) && isPlain(now) ? `${key} ${then} → ${now}` : `${key} changed`;

const isPlain = (value: unknown): value is number | string =>
  typeof value === 'number' || (typeof value === 'string' && /^\d+:\d\d$/.test(value));

function whyGone({ books, outside }: Question, id: string): string {
  const left = outside.find(({ workOrderId }) => workOrderId === id);
  if (left) return left.text;
  const row = books.orders.find((each: Row) => each['id'] === id);
  return row?.['state'] === 'under_way' ? 'has been started' : 'is done or withdrawn';
}
