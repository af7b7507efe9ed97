import type { Plan, PlannedRoute, PlannedStop } from './plan.js';
import type { Break, CrewDay, Order, RoutingProblem } from './problem.js';

/** What can come to be wrong with a route that was right when it was planned. */
export type RouteFaultCode =
  | 'leaves_too_early'
  | 'unknown_order'
  | 'runs_dry'
  | 'waste_runs_over'
  | 'out_of_sequence'
  | 'no_refill_site'
  | 'back_too_late'
  | 'outside_hours'
  | 'locked_elsewhere'
  | 'outside_locked_hour'
  | 'crew_not_allowed'
  | 'closed_season'
  | 'too_few_people'
  | 'kit_missing'
  | 'break_outside_window'
  | 'too_soon_after'
  | 'shared_kit'
  | 'does_not_add_up';

/** One thing that is wrong. Of whom, where it is about one; `seconds` since midnight: when. */
export interface RouteFault {
  code: RouteFaultCode;
  crewDayId?: string;
  orderId?: string;
  /** What it follows. */
  beforeId?: string;
  seconds?: number;
  people?: number;
  kit?: string;
  /** For who looks after the search. */
  text: string;
}

type Wrong = (text: string, code?: RouteFaultCode, more?: Partial<RouteFault>) => void;

/**
 * Verifies a plan against its problem from first principles. Shares no code with the solver, and recomputes
 * every time, distance and cost from the travel matrix alone.
 *
 * @returns What is wrong, in sentences; empty when the plan holds.
 */
export function check(problem: RoutingProblem, plan: Plan): string[] {
  const found: RouteFault[] = [];
  const { placed, driven, cost } = followRoutes(problem, plan.routes, new Set(), found);
  const faults = found.map(({ text }) => text);
  const orders = new Set(problem.orders.map(({ id }) => id));
  for (const crewDay of problem.crewDays) {
    if (crewDay.underWay && !driven.has(crewDay.id))
      faults.push(`${crewDay.id} is under way but has no route home`);
  }

  const leftOut = new Set(plan.unplaced.map((unplaced) => unplaced.orderId));
  if (leftOut.size !== plan.unplaced.length) faults.push('an order is unplaced twice');
  for (const order of problem.orders) {
    if (placed.has(order.id) === leftOut.has(order.id)) faults.push(`order ${order.id} is neither or both`);
    if (leftOut.has(order.id))
      cost.unplaced += (order.unplacedCost ?? 0) + (order.accepted?.otherDayCost ?? 0);
  }
  for (const id of leftOut) if (!orders.has(id)) faults.push(`unknown order ${id} is unplaced`);

  const total = Object.values(cost).reduce((sum, part) => sum + part, 0);
  for (const [name, amount] of Object.entries({ ...cost, total })) {
    const said = plan.cost[name as keyof typeof plan.cost];
    if (Math.abs(said - amount) > 1e-6) faults.push(`cost of ${name} is ${amount}, the plan says ${said}`);
  }
  return faults;
}

/**
 * As `check` for routes planned some time ago: whether they can still be driven. What they cost, and what they leave
 * out, is no matter.
 *
 * @param gone Crew-days that have set out since: their own hours are not looked at.
 */
export function checkRoutes(
  problem: RoutingProblem,
  routes: readonly PlannedRoute[],
  gone: ReadonlySet<string>,
): RouteFault[] {
  const faults: RouteFault[] = [];
  followRoutes(problem, routes, gone, faults);
  return faults;
}

const fault = (
  text: string,
  code: RouteFaultCode = 'does_not_add_up',
  more: Partial<RouteFault> = {},
): RouteFault => ({ code, text, ...more });

/** Drives the routes; what they cost, who goes out, and where each order is. */
function followRoutes(
  problem: RoutingProblem,
  routes: readonly PlannedRoute[],
  gone: ReadonlySet<string>,
  faults: RouteFault[],
) {
  const orders = new Map(problem.orders.map((order) => [order.id, order]));
  const crewDays = new Map(problem.crewDays.map((crewDay) => [crewDay.id, crewDay]));
  const placed = new Map<string, { route: PlannedRoute; position: number }>();
  const driven = new Set<string>();
  const cost = { driving: 0, overtime: 0, crewUse: 0, waiting: 0, moves: 0, unplaced: 0 };

  for (const route of routes) {
    const crewDay = crewDays.get(route.crewDayId);
    if (!crewDay) {
      faults.push(fault(`route of unknown crew-day ${route.crewDayId}`));
      continue;
    }
    if (driven.has(crewDay.id)) faults.push(fault(`crew-day ${crewDay.id} has two routes`));
    driven.add(crewDay.id);
    if (route.crewId !== crewDay.crewId || route.day !== crewDay.day)
      faults.push(fault(`${crewDay.id}: wrong crew or day`));
    if (!gone.has(crewDay.id)) {
      const spent = checkRoute(problem, crewDay, route, orders, faults);
      cost.driving += spent.driving;
      cost.overtime += spent.overtime;
    }
    if (!crewDay.underWay && route.stops.some((stop) => stop.kind === 'visit'))
      cost.crewUse += crewDay.useCost;

    route.stops.forEach((stop, position) => {
      if (stop.kind !== 'visit') return;
      const order = orders.get(stop.orderId);
      if (!order) return;
      if (placed.has(order.id)) faults.push(fault(`order ${order.id} is placed twice`));
      placed.set(order.id, { route, position });
      cost.waiting += order.waitingCost.length > crewDay.day ? order.waitingCost[crewDay.day]! : 0;
      if (order.accepted && order.accepted.day !== crewDay.day) cost.moves += order.accepted.otherDayCost;
      else if (order.accepted && order.accepted.crewId !== crewDay.crewId)
        cost.moves += order.accepted.otherCrewCost;
    });
  }
  checkLinks(problem, placed, faults);
  checkSharedKit(problem, routes, faults);
  return { placed, driven, cost };
}

function checkRoute(
  problem: RoutingProblem,
  crewDay: CrewDay,
  route: PlannedRoute,
  orders: ReadonlyMap<string, Order>,
  faults: RouteFault[],
): { driving: number; overtime: number } {
  const wrong: Wrong = (text, code = 'does_not_add_up', more = {}) =>
    faults.push({ code, crewDayId: crewDay.id, text: `${crewDay.id}: ${text}`, ...more });
  const { travel, costs } = problem;
  let place = crewDay.underWay ? crewDay.underWay.location : crewDay.startLocation;
  const free = crewDay.underWay ? crewDay.underWay.freeAtSeconds : crewDay.shiftStartSeconds;
  let clock = route.leaveSeconds;
  let seconds = 0;
  let metres = 0;
  let driving = 0;
  let water = crewDay.tankLitres === null ? Infinity : crewDay.tankLitres;
  let waste = 0;
  if (crewDay.underWay) {
    if (crewDay.tankLitres !== null) water = Math.min(water, crewDay.underWay.tankLitresLeft);
    waste = crewDay.underWay.wasteLitresOnBoard;
  }
  const rests: PlannedStop[] = [];
  let lastSequence = -Infinity;
  if (clock < free) wrong(`leaves at ${clock}, before ${free}`, 'leaves_too_early', { seconds: free });

  const drive = (to: number, saidSeconds: number, saidMetres: number) => {
    const legSeconds = travel.seconds[place * travel.size + to]!;
    const legMetres = travel.metres[place * travel.size + to]!;
    if (legSeconds !== saidSeconds || legMetres !== saidMetres)
      wrong(`a leg to ${to} is not as the matrix says`);
    driving += Math.round(
      (legSeconds * costs.drivingPerHour) / 3600 + (legMetres * costs.drivingPerKm) / 1000,
    );
    seconds += legSeconds;
    metres += legMetres;
    clock += legSeconds;
    place = to;
  };

  for (const [position, stop] of route.stops.entries()) {
    if (stop.kind === 'break' && stop.during) {
      rests.push(stop);
      checkInside(route.stops, position, wrong);
      continue;
    }
    drive(stop.location, stop.travelSeconds, stop.travelMetres);
    if (stop.arrivalSeconds !== clock) wrong(`arrives at ${clock}, the plan says ${stop.arrivalSeconds}`);
    if (stop.waitSeconds < 0 || stop.startSeconds !== clock + stop.waitSeconds)
      wrong('waiting does not add up');
    clock = stop.startSeconds;
    if (stop.kind === 'visit') {
      const order = orders.get(stop.orderId);
      if (!order) {
        wrong(`unknown order ${stop.orderId}`, 'unknown_order', { orderId: stop.orderId });
        continue;
      }
      checkVisit(problem, crewDay, route, order, stop, wrong);
      clock += order.serviceSecondsByCrew?.[crewDay.crewId] ?? order.serviceSeconds;
      for (const rest of insideOf(route.stops, position)) clock += rest.endSeconds - rest.startSeconds;
      water -= order.waterLitres;
      waste += order.wasteLitres;
      if (water < 0) wrong(`runs dry at ${order.id}`, 'runs_dry', { orderId: order.id });
      if (crewDay.wasteLitres !== null && waste > crewDay.wasteLitres)
        wrong(`waste tank runs over at ${order.id}`, 'waste_runs_over', { orderId: order.id });
      if (order.lock?.sequence !== undefined) {
        if (order.lock.sequence < lastSequence)
          wrong(`${order.id} is out of its locked sequence`, 'out_of_sequence', { orderId: order.id });
        lastSequence = order.lock.sequence;
      }
    } else if (stop.kind === 'break') {
      rests.push(stop);
      clock = stop.endSeconds;
    } else {
      const site = problem.refillSites.find((one) => one.id === stop.siteId);
      if (!site || site.location !== stop.location) {
        wrong(`no refill site ${stop.siteId} there`, 'no_refill_site', { seconds: stop.startSeconds });
        continue;
      }
      clock += site.seconds;
      if (site.givesWater) water = crewDay.tankLitres ?? Infinity;
      if (site.takesWaste) waste = 0;
    }
    if (stop.endSeconds !== clock) wrong(`leaves a stop at ${clock}, the plan says ${stop.endSeconds}`);
  }
  drive(crewDay.endLocation, route.returnTravelSeconds, route.returnTravelMetres);
  if (route.endSeconds !== clock) wrong(`ends at ${clock}, the plan says ${route.endSeconds}`);
  if (route.travelSeconds !== seconds || route.travelMetres !== metres) wrong('travel does not add up');
  if (route.stops.length > 0) {
    if (clock > crewDay.shiftEndSeconds + crewDay.overtimeSeconds)
      wrong(`ends at ${clock}, after its overtime`, 'back_too_late', { seconds: clock });
    checkRests(
      crewDay.breaks.filter((rest) => rest.latestStartSeconds >= free),
      rests,
      clock,
      wrong,
    );
  }
  const over = Math.max(0, clock - crewDay.shiftEndSeconds);
  if (route.overtimeSeconds !== over) wrong(`overtime is ${over} s, the plan says ${route.overtimeSeconds}`);
  return { driving, overtime: Math.round((over * crewDay.overtimePerHour) / 3600) };
}

/** Rests listed right after a visit that lie within it. */
function insideOf(stops: readonly PlannedStop[], position: number): PlannedStop[] {
  const rests: PlannedStop[] = [];
  for (let next = position + 1; next < stops.length; next++) {
    const stop = stops[next]!;
    if (stop.kind !== 'break' || !stop.during) break;
    rests.push(stop);
  }
  return rests;
}

function checkInside(stops: readonly PlannedStop[], position: number, wrong: Wrong): void {
  const rest = stops[position]!;
  const before = stops[position - 1];
  let first = position - 1;
  while (stops[first]?.kind === 'break') first--;
  const visit = stops[first];
  if (visit?.kind !== 'visit') wrong('a rest in the midst of work follows no visit');
  else if (rest.startSeconds < visit.startSeconds || rest.endSeconds > visit.endSeconds)
    wrong('a rest lies outside the work it interrupts');
  if (before?.kind === 'break' && before.endSeconds > rest.startSeconds) wrong('two rests overlap');
  if (rest.location !== visit?.location) wrong('a rest is elsewhere than the work it interrupts');
}

function checkVisit(
  problem: RoutingProblem,
  crewDay: CrewDay,
  route: PlannedRoute,
  order: Order,
  stop: PlannedStop,
  wrong: Wrong,
): void {
  const { lock, windows, onlyCrews } = order;
  if (stop.location !== order.location) wrong(`${order.id} is elsewhere`);
  const open =
    windows.length === 0 ||
    windows.some(
      (window) =>
        (window.day ?? crewDay.day) === crewDay.day &&
        window.fromSeconds <= stop.startSeconds &&
        stop.startSeconds <= window.toSeconds,
    );
  const late = (what: string, code: RouteFaultCode) =>
    wrong(`${order.id} starts at ${stop.startSeconds}, ${what}`, code, {
      orderId: order.id,
      seconds: stop.startSeconds,
    });
  const of = (what: string, code: RouteFaultCode, more: Partial<RouteFault> = {}) =>
    wrong(`${order.id} ${what}`, code, { orderId: order.id, ...more });
  if (!open) late('outside its windows', 'outside_hours');
  if (lock?.day !== undefined && lock.day !== crewDay.day) of('is locked to another day', 'locked_elsewhere');
  if (lock?.crewId !== undefined && lock.crewId !== crewDay.crewId)
    of('is locked to another crew', 'locked_elsewhere');
  if (
    stop.startSeconds < (lock?.fromSeconds ?? -Infinity) ||
    stop.startSeconds > (lock?.toSeconds ?? Infinity)
  ) {
    late('outside its locked hour', 'outside_locked_hour');
  }
  if (onlyCrews && !onlyCrews.includes(crewDay.crewId)) of('is not for this crew', 'crew_not_allowed');
  if (order.closedCrewDays?.some((id) => id === crewDay.id))
    of('is placed in a closed season', 'closed_season');
  if (crewDay.people < order.people)
    of(`needs ${order.people} people`, 'too_few_people', { people: order.people });
  for (const kind of order.needs) {
    const fetched = problem.sharedKit.some(
      (item) => item.kind === kind && route.sharedKitIds.includes(item.id),
    );
    if (!crewDay.kit.includes(kind) && !fetched)
      of(`needs ${kind}, which is not there`, 'kit_missing', { kit: kind });
  }
}

function checkRests(
  due: readonly Break[],
  taken: readonly PlannedStop[],
  endSeconds: number,
  wrong: Wrong,
): void {
  due.forEach((rest, index) => {
    const stop = taken[index];
    if (!stop) {
      if (endSeconds > rest.latestStartSeconds)
        wrong(`break ${index + 1} is missing`, 'break_outside_window');
      return;
    }
    if (stop.startSeconds < rest.earliestStartSeconds || stop.startSeconds > rest.latestStartSeconds) {
      wrong(`break ${index + 1} starts at ${stop.startSeconds}, outside its window`, 'break_outside_window');
    }
    if (stop.endSeconds - stop.startSeconds !== rest.seconds)
      wrong(`break ${index + 1} has the wrong length`);
  });
  if (taken.length > due.length) wrong('more breaks than the crew has');
}

function checkLinks(
  { orders, calendarDays }: RoutingProblem,
  placed: ReadonlyMap<string, { route: PlannedRoute; position: number }>,
  faults: RouteFault[],
): void {
  for (const order of orders) {
    const here = placed.get(order.id);
    if (!here) continue;
    for (const { orderId, minDaysBetween } of order.follows) {
      const there = placed.get(orderId);
      const both = { crewDayId: here.route.crewDayId, orderId: order.id, beforeId: orderId };
      if (!there) {
        faults.push(
          fault(`order ${order.id} is placed without ${orderId}, which it follows`, 'too_soon_after', both),
        );
        continue;
      }
      const calendar = (day: number) => (calendarDays ? calendarDays[day]! : day);
      const days = calendar(here.route.day) - calendar(there.route.day);
      const sameRoute = here.route === there.route && here.position > there.position;
      if (days < minDaysBetween || (days === 0 && !sameRoute)) {
        faults.push(fault(`order ${order.id} comes too soon after ${orderId}`, 'too_soon_after', both));
      }
    }
  }
}

function checkSharedKit(
  { sharedKit, crewDays }: RoutingProblem,
  routes: readonly PlannedRoute[],
  faults: RouteFault[],
): void {
  const holders = new Map<string, string>();
  for (const route of routes) {
    const crewId = crewDays.find((crewDay) => crewDay.id === route.crewDayId)?.crewId;
    const wrong = (text: string) => faults.push(fault(text, 'shared_kit', { crewDayId: route.crewDayId }));
    for (const itemId of route.sharedKitIds) {
      const item = sharedKit.find((one) => one.id === itemId);
      if (!item) wrong(`${route.crewDayId} takes unknown item ${itemId}`);
      else if (item.crews && !item.crews.includes(crewId ?? '')) wrong(`${crewId} may not take ${itemId}`);
      else if (item.days && !item.days.includes(route.day))
        wrong(`${itemId} is out of service on day ${route.day}`);
      const key = `${itemId} on day ${route.day}`;
      const other = holders.get(key);
      if (other !== undefined) wrong(`${other} and ${route.crewDayId} both have ${key}`);
      holders.set(key, route.crewDayId);
    }
  }
}
