import type { Plan, PlannedRoute, PlannedStop } from './plan.js';
import type { Break, CrewDay, Order, RoutingProblem } from './problem.js';

/**
 * Verifies a plan against its problem from first principles. Shares no code with the solver, and recomputes
 * every time, distance and cost from the travel matrix alone.
 *
 * @returns What is wrong, in sentences; empty when the plan holds.
 */
export function check(problem: RoutingProblem, plan: Plan): string[] {
  const faults: string[] = [];
  const { placed, driven, cost } = followRoutes(problem, plan.routes, new Set(), faults);
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
): string[] {
  const faults: string[] = [];
  followRoutes(problem, routes, gone, faults);
  return faults;
}

/** Drives the routes; what they cost, who goes out, and where each order is. */
function followRoutes(
  problem: RoutingProblem,
  routes: readonly PlannedRoute[],
  gone: ReadonlySet<string>,
  faults: string[],
) {
  const orders = new Map(problem.orders.map((order) => [order.id, order]));
  const crewDays = new Map(problem.crewDays.map((crewDay) => [crewDay.id, crewDay]));
  const placed = new Map<string, { route: PlannedRoute; position: number }>();
  const driven = new Set<string>();
  const cost = { driving: 0, overtime: 0, crewUse: 0, waiting: 0, moves: 0, unplaced: 0 };

  for (const route of routes) {
    const crewDay = crewDays.get(route.crewDayId);
    if (!crewDay) {
      faults.push(`route of unknown crew-day ${route.crewDayId}`);
      continue;
    }
    if (driven.has(crewDay.id)) faults.push(`crew-day ${crewDay.id} has two routes`);
    driven.add(crewDay.id);
    if (route.crewId !== crewDay.crewId || route.day !== crewDay.day)
      faults.push(`${crewDay.id}: wrong crew or day`);
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
      if (placed.has(order.id)) faults.push(`order ${order.id} is placed twice`);
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
  faults: string[],
): { driving: number; overtime: number } {
  const wrong = (what: string) => faults.push(`${crewDay.id}: ${what}`);
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
  if (clock < free) wrong(`leaves at ${clock}, before ${free}`);

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
        wrong(`unknown order ${stop.orderId}`);
        continue;
      }
      checkVisit(problem, crewDay, route, order, stop, wrong);
      clock += order.serviceSecondsByCrew?.[crewDay.crewId] ?? order.serviceSeconds;
      for (const rest of insideOf(route.stops, position)) clock += rest.endSeconds - rest.startSeconds;
      water -= order.waterLitres;
      waste += order.wasteLitres;
      if (water < 0) wrong(`runs dry at ${order.id}`);
      if (crewDay.wasteLitres !== null && waste > crewDay.wasteLitres)
        wrong(`waste tank runs over at ${order.id}`);
      if (order.lock?.sequence !== undefined) {
        if (order.lock.sequence < lastSequence) wrong(`${order.id} is out of its locked sequence`);
        lastSequence = order.lock.sequence;
      }
    } else if (stop.kind === 'break') {
      rests.push(stop);
      clock = stop.endSeconds;
    } else {
      const site = problem.refillSites.find((one) => one.id === stop.siteId);
      if (!site || site.location !== stop.location) {
        wrong(`no refill site ${stop.siteId} there`);
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
      wrong(`ends at ${clock}, after its overtime`);
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

function checkInside(stops: readonly PlannedStop[], position: number, wrong: (what: string) => void): void {
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
  wrong: (what: string) => void,
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
  if (!open) wrong(`${order.id} starts at ${stop.startSeconds}, outside its windows`);
  if (lock?.day !== undefined && lock.day !== crewDay.day) wrong(`${order.id} is locked to another day`);
  if (lock?.crewId !== undefined && lock.crewId !== crewDay.crewId)
    wrong(`${order.id} is locked to another crew`);
  if (
    stop.startSeconds < (lock?.fromSeconds ?? -Infinity) ||
    stop.startSeconds > (lock?.toSeconds ?? Infinity)
  ) {
    wrong(`${order.id} starts at ${stop.startSeconds}, outside its locked hour`);
  }
  if (onlyCrews && !onlyCrews.includes(crewDay.crewId)) wrong(`${order.id} is not for this crew`);
  if (order.closedCrewDays?.some((id) => id === crewDay.id))
    wrong(`${order.id} is placed in a closed season`);
  if (crewDay.people < order.people) wrong(`${order.id} needs ${order.people} people`);
  for (const kind of order.needs) {
    const fetched = problem.sharedKit.some(
      (item) => item.kind === kind && route.sharedKitIds.includes(item.id),
    );
    if (!crewDay.kit.includes(kind) && !fetched) wrong(`${order.id} needs ${kind}, which is not there`);
  }
}

function checkRests(
  due: readonly Break[],
  taken: readonly PlannedStop[],
  endSeconds: number,
  wrong: (what: string) => void,
): void {
  due.forEach((rest, index) => {
    const stop = taken[index];
    if (!stop) {
      if (endSeconds > rest.latestStartSeconds) wrong(`break ${index + 1} is missing`);
      return;
    }
    if (stop.startSeconds < rest.earliestStartSeconds || stop.startSeconds > rest.latestStartSeconds) {
      wrong(`break ${index + 1} starts at ${stop.startSeconds}, outside its window`);
    }
    if (stop.endSeconds - stop.startSeconds !== rest.seconds)
      wrong(`break ${index + 1} has the wrong length`);
  });
  if (taken.length > due.length) wrong('more breaks than the crew has');
}

function checkLinks(
  { orders, calendarDays }: RoutingProblem,
  placed: ReadonlyMap<string, { route: PlannedRoute; position: number }>,
  faults: string[],
): void {
  for (const order of orders) {
    const here = placed.get(order.id);
    if (!here) continue;
    for (const { orderId, minDaysBetween } of order.follows) {
      const there = placed.get(orderId);
      if (!there) {
        faults.push(`order ${order.id} is placed without ${orderId}, which it follows`);
        continue;
      }
      const calendar = (day: number) => (calendarDays ? calendarDays[day]! : day);
      const days = calendar(here.route.day) - calendar(there.route.day);
      const sameRoute = here.route === there.route && here.position > there.position;
      if (days < minDaysBetween || (days === 0 && !sameRoute)) {
        faults.push(`order ${order.id} comes too soon after ${orderId}`);
      }
    }
  }
}

function checkSharedKit(
  { sharedKit, crewDays }: RoutingProblem,
  routes: readonly PlannedRoute[],
  faults: string[],
): void {
  const holders = new Map<string, string>();
  for (const route of routes) {
    const crewId = crewDays.find((crewDay) => crewDay.id === route.crewDayId)?.crewId;
    for (const itemId of route.sharedKitIds) {
      const item = sharedKit.find((one) => one.id === itemId);
      if (!item) faults.push(`${route.crewDayId} takes unknown item ${itemId}`);
      else if (item.crews && !item.crews.includes(crewId ?? ''))
        faults.push(`${crewId} may not take ${itemId}`);
      else if (item.days && !item.days.includes(route.day))
        faults.push(`${itemId} is out of service on day ${route.day}`);
      const key = `${itemId} on day ${route.day}`;
      const other = holders.get(key);
      if (other !== undefined) faults.push(`${other} and ${route.crewDayId} both have ${key}`);
      holders.set(key, route.crewDayId);
    }
  }
}
