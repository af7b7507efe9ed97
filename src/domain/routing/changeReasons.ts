import { type Obstacle, obstacle } from './ability.js';
import { driveAsTold } from './asTold.js';
import { spansOn } from './orderTerms.js';
import { overtimePrice } from './overtime.js';
import type { Plan, PlannedRoute, StartRoutes } from './plan.js';
import type { Order, RoutingProblem } from './problem.js';

/** Money that a change saves, by what; below zero: it costs. */
export interface Saving {
  driving: number;
  overtime: number;
  /** Waiting of the orders by the day they are served, and of those left out. */
  waiting: number;
}

export type ChangeReason =
  /** It cannot stay where it was, or where it was cannot be driven. */
  | { kind: 'forced'; by: ForcedBy }
  /** Routes it was on or goes to had to change; the orders that are why. */
  | { kind: 'follows'; orderIds: readonly string[] }
  /** Nothing forces it: what it saves together with the other changes of these routes. */
  | { kind: 'saves'; orderIds: readonly string[]; saving: Saving };

export type ForcedBy =
  | { code: 'not_asked_about' | 'crew_gone' | 'closed_day' | 'locked_elsewhere' | 'call' }
  | { code: 'obstacle'; obstacle: Obstacle }
  | { code: 'route_cannot_be_driven'; lateOrderId: string | null };

interface Move {
  orderId: string;
  /** Crew-day ids; null: none. */
  from: string | null;
  to: string | null;
}

/**
 * Why each order's place changes between the routes a plan started from and the plan.
 *
 * @param changed Orders whose day, crew, hour or being placed is different.
 */
export function changeReasons(
  problem: RoutingProblem,
  start: StartRoutes,
  plan: Pick<Plan, 'routes'>,
  changed: readonly string[],
): Map<string, ChangeReason> {
  const orders = new Map(problem.orders.map((order) => [order.id, order]));
  const before = new Map(start.flatMap(({ crewDayId, orderIds }) => orderIds.map((id) => [id, crewDayId])));
  const after = new Map(plan.routes.flatMap((route) => visits(route).map((id) => [id, route.crewDayId])));
  const moves = changed.map((orderId) => ({
    orderId,
    from: before.get(orderId) ?? null,
    to: after.get(orderId) ?? null,
  }));
  const undrivable = cannotBeDriven(problem, start, moves);
  const reasons = new Map<string, ChangeReason>();
  for (const move of moves) {
    const by = forcedBy(problem, orders.get(move.orderId), move, undrivable);
    if (by) reasons.set(move.orderId, { kind: 'forced', by });
  }
  for (const group of groupsOf(moves)) {
    const forced = group.filter(({ orderId }) => reasons.has(orderId));
    const free = group.filter(({ orderId }) => !reasons.has(orderId));
    const orderIds = group.map(({ orderId }) => orderId);
    const saving = forced.length > 0 || free.length === 0 ? null : savingOf(problem, start, plan, group);
    for (const move of free)
      reasons.set(
        move.orderId,
        saving ? { kind: 'saves', orderIds, saving } : { kind: 'follows', orderIds: nearest(move, forced) },
      );
  }
  return reasons;
}

const visits = ({ stops }: PlannedRoute): string[] =>
  stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : []));

/** Old routes of crew-days that changed and cannot be driven any more as they stood: the stop that is late, if one is. */
function cannotBeDriven(
  problem: RoutingProblem,
  start: StartRoutes,
  moves: readonly Move[],
): Map<string, string | null> {
  const touched = new Set(moves.map(({ from }) => from));
  const found = new Map<string, string | null>();
  for (const { crewDayId, orderIds } of start) {
    const crewDay = problem.crewDays.find(({ id }) => id === crewDayId);
    if (!crewDay || !touched.has(crewDayId)) continue;
    const told = driveAsTold(
      problem,
      crewDayId,
      orderIds.filter((id) => problem.orders.some((o) => o.id === id)),
    );
    // What one order alone cannot keep is told of that order.
    if ('refused' in told) {
      if (told.refused.code === 'tanks' || told.refused.code === 'too_long') found.set(crewDayId, null);
    } else if (told.late.length > 0 || told.route.overtimeSeconds > crewDay.overtimeSeconds)
      found.set(crewDayId, told.late[0]?.orderId ?? null);
  }
  return found;
}

function forcedBy(
  { crewDays, sharedKit }: RoutingProblem,
  order: Order | undefined,
  { from, to }: Move,
  undrivable: ReadonlyMap<string, string | null>,
): ForcedBy | null {
  if (from === null) return (order?.rank ?? 0) > 0 ? { code: 'call' } : null;
  if (!order) return { code: 'not_asked_about' };
  const crewDay = crewDays.find(({ id }) => id === from);
  if (!crewDay) return { code: 'crew_gone' };
  const { lock } = order;
  if ((lock?.day ?? crewDay.day) !== crewDay.day || (lock?.crewId ?? crewDay.crewId) !== crewDay.crewId)
    return { code: 'locked_elsewhere' };
  if (spansOn(order, crewDay.day).length === 0) return { code: 'closed_day' };
  const found = obstacle(order, crewDay, sharedKit);
  if (found) return { code: 'obstacle', obstacle: found };
  const lateOrderId = undrivable.get(from);
  return lateOrderId !== undefined && to !== null ? { code: 'route_cannot_be_driven', lateOrderId } : null;
}

/** Changes that hang together: they share a crew-day, old or new. */
function groupsOf(moves: readonly Move[]): Move[][] {
  const groups: { crewDays: Set<string>; moves: Move[] }[] = [];
  for (const move of moves) {
    const touched = [move.from, move.to].filter((id) => id !== null);
    const met = groups.filter(({ crewDays }) => touched.some((id) => crewDays.has(id)));
    const merged = {
      crewDays: new Set([...touched, ...met.flatMap(({ crewDays }) => [...crewDays])]),
      moves: [...met.flatMap((group) => group.moves), move],
    };
    for (const group of met) groups.splice(groups.indexOf(group), 1);
    groups.push(merged);
  }
  return groups.map((group) => group.moves);
}

/** The forced changes on the crew-days of a move; where none is, all that it hangs together with. */
function nearest(move: Move, forced: readonly Move[]): string[] {
  const shares = ({ from, to }: Move) =>
    [from, to].some((id) => id !== null && (id === move.from || id === move.to));
  const near = forced.filter(shares);
  return (near.length > 0 ? near : forced).map(({ orderId }) => orderId);
}

/** What the crew-days of a group cost as they were, less what they cost in the plan. */
function savingOf(
  problem: RoutingProblem,
  start: StartRoutes,
  plan: Pick<Plan, 'routes'>,
  group: readonly Move[],
): Saving {
  const crewDays = new Set(group.flatMap(({ from, to }) => [from, to].filter((id) => id !== null)));
  const saving = { driving: 0, overtime: 0, waiting: 0 };
  const count = (route: PlannedRoute, sign: number) => {
    const { drivingPerHour, drivingPerKm } = problem.costs;
    const perHour = problem.crewDays.find(({ id }) => id === route.crewDayId)?.overtimePerHour ?? 0;
    saving.driving +=
      sign *
      Math.round((route.travelSeconds * drivingPerHour) / 3600 + (route.travelMetres * drivingPerKm) / 1000);
    saving.overtime += sign * overtimePrice(route.overtimeSeconds, perHour);
  };
  for (const { crewDayId, orderIds } of start) {
    if (!crewDays.has(crewDayId)) continue;
    const told = driveAsTold(problem, crewDayId, orderIds);
    if (!('refused' in told)) count(told.route, 1);
  }
  for (const route of plan.routes) if (crewDays.has(route.crewDayId)) count(route, -1);
  for (const { orderId, from, to } of group) {
    const order = problem.orders.find(({ id }) => id === orderId);
    if (order) saving.waiting += waitingOn(problem, order, from) - waitingOn(problem, order, to);
  }
  return saving;
}

function waitingOn({ crewDays }: RoutingProblem, order: Order, crewDayId: string | null): number {
  const crewDay = crewDays.find(({ id }) => id === crewDayId);
  return crewDay ? (order.waitingCost[crewDay.day] ?? 0) : (order.unplacedCost ?? 0);
}
