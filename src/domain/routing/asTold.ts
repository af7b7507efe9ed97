import { type Obstacle, obstacle } from './ability.js';
import { compile } from './compile.js';
import type { PlannedRoute } from './plan.js';
import type { CrewDay, Order, RoutingProblem } from './problem.js';
import { refresh } from './refresh.js';
import { RouteState } from './routeState.js';
import { scheduleRoute } from './schedule.js';
import { NEVER } from './windows.js';

/** One crew's day in the sequence a person wants, kept even where that makes it late. */
export interface ToldRoute {
  readonly route: PlannedRoute;
  /** Stops that start after their hours close, and by how much. */
  readonly late: readonly { readonly orderId: string; readonly lateSeconds: number }[];
}

export type ToldRefusal =
  | { readonly code: 'unknown_crew_day' | 'unknown_order'; readonly id: string }
  | { readonly code: 'obstacle'; readonly orderId: string; readonly obstacle: Obstacle }
  | { readonly code: 'closed_day'; readonly orderId: string }
  | { readonly code: 'tanks' | 'too_long' };

const LONGEST_DAY_SECONDS = 86_400;
/** How much later than wanted a rest is tried, one after the other. */
const REST_LATER_SECONDS = [0, 3_600, 7_200, 14_400, 28_800, LONGEST_DAY_SECONDS];

/**
 * Drives the orders in the sequence given. What a person may override is late work, overtime, missed rests and
 * locks of the sequence; kit, people, tanks and closed seasons stay.
 */
export function driveAsTold(
  problem: RoutingProblem,
  crewDayId: string,
  orderIds: readonly string[],
): ToldRoute | { readonly refused: ToldRefusal } {
  const crewDay = problem.crewDays.find(({ id }) => id === crewDayId);
  if (!crewDay) return { refused: { code: 'unknown_crew_day', id: crewDayId } };
  const orders: Order[] = [];
  for (const id of orderIds) {
    const order = problem.orders.find((each) => each.id === id);
    if (!order) return { refused: { code: 'unknown_order', id } };
    const hindrance = obstacle(order, crewDay, problem.sharedKit);
    if (hindrance) return { refused: { code: 'obstacle', orderId: id, obstacle: hindrance } };
    const open = order.windows.some(({ day }) => day === undefined || day === crewDay.day);
    if (order.windows.length > 0 && !open) return { refused: { code: 'closed_day', orderId: id } };
    orders.push(order);
  }
  const loose = { ...problem, crewDays: [crewDay], orders: orders.map(unlinked) };
  const driven = schedule(loose, crewDay, orderIds) ?? driveLate(stretched(loose), crewDay, orderIds);
  if (!driven) return { refused: { code: drivesWithout(loose, crewDay, orderIds) ? 'tanks' : 'too_long' } };
  const route = {
    ...driven,
    overtimeSeconds: Math.max(0, driven.endSeconds - crewDay.shiftEndSeconds),
  };
  return { route, late: lateOn(route, orders) };
}

/** Rests as soon as they can be had: one that could begin a day later would fall away on a day that ends before. */
function driveLate(
  problem: RoutingProblem,
  crewDay: CrewDay,
  orderIds: readonly string[],
): PlannedRoute | null {
  for (const lateSeconds of REST_LATER_SECONDS) {
    const driven = schedule(problem, looseCrewDay(crewDay, lateSeconds), orderIds);
    if (driven) return driven;
  }
  return null;
}

/** Whether it is only the tanks that keep a crew from driving the orders within a day and a night. */
function drivesWithout(loose: RoutingProblem, crewDay: CrewDay, orderIds: readonly string[]): boolean {
  return driveLate(stretched(loose), { ...crewDay, tankLitres: null, wasteLitres: null }, orderIds) !== null;
}

/** Seasons have been looked at; links and the sequence are the person's business; hours and a locked hour still tell what is late. */
function unlinked(order: Order): Order {
  const { lock, closedCrewDays: _closed, ...rest } = order;
  const hour = lock?.fromSeconds !== undefined || lock?.toSeconds !== undefined;
  return {
    ...rest,
    follows: [],
    ...(hour
      ? {
          lock: {
            ...(lock?.fromSeconds === undefined ? {} : { fromSeconds: lock.fromSeconds }),
            ...(lock?.toSeconds === undefined ? {} : { toSeconds: lock.toSeconds }),
          },
        }
      : {}),
  };
}

function schedule(
  problem: RoutingProblem,
  crewDay: CrewDay,
  orderIds: readonly string[],
): PlannedRoute | null {
  const model = compile({ ...problem, crewDays: [crewDay] });
  const state = new RouteState(model);
  refresh(state, 0);
  let after = model.orderCount;
  for (const id of orderIds) {
    const c = model.orderIndex.get(id);
    if (c === undefined || model.able[c] === 0) return null;
    state.link(c, after, 0);
    after = c;
  }
  return refresh(state, 0) ? scheduleRoute(state, 0) : null;
}

/** Work may start after its hours, from the opening of the last of them on. */
function stretched(problem: RoutingProblem): RoutingProblem {
  const day = problem.crewDays[0]?.day ?? 0;
  return {
    ...problem,
    orders: problem.orders.map(({ lock, ...order }) => ({
      ...order,
      windows: opened(order.windows, lock, day),
    })),
  };
}

function opened(windows: Order['windows'], lock: Order['lock'], day: number): Order['windows'] {
  const own = windows.filter((window) => window.day === undefined || window.day === day);
  if (own.length === 0 && !lock) return [];
  const from = (window: { fromSeconds: number }) => Math.max(window.fromSeconds, lock?.fromSeconds ?? 0);
  if (own.length === 0) return [{ fromSeconds: lock?.fromSeconds ?? 0, toSeconds: NEVER }];
  const last = own.reduce((a, b) => (b.toSeconds > a.toSeconds ? b : a));
  return own.map((window) => ({
    fromSeconds: from(window),
    toSeconds: window === last ? NEVER : window.toSeconds,
  }));
}

function looseCrewDay(crewDay: CrewDay, lateSeconds: number): CrewDay {
  return {
    ...crewDay,
    overtimeSeconds: LONGEST_DAY_SECONDS,
    breaks: crewDay.breaks.map((rest) => ({
      ...rest,
      latestStartSeconds: rest.latestStartSeconds + lateSeconds,
    })),
  };
}

function lateOn(route: PlannedRoute, orders: readonly Order[]): ToldRoute['late'] {
  const byId = new Map(orders.map((order) => [order.id, order]));
  return route.stops.flatMap((stop) => {
    const order = stop.kind === 'visit' ? byId.get(stop.orderId) : undefined;
    if (!order) return [];
    const closes = closing(order, route.day);
    return stop.startSeconds > closes ? [{ orderId: order.id, lateSeconds: stop.startSeconds - closes }] : [];
  });
}

/** When the last of its hours on the day closes; `Infinity`: never. */
function closing({ windows, lock }: Order, day: number): number {
  const own = windows.filter((window) => window.day === undefined || window.day === day);
  const hours = own.length === 0 ? Infinity : Math.max(...own.map(({ toSeconds }) => toSeconds));
  return Math.min(hours, lock?.toSeconds ?? Infinity);
}
