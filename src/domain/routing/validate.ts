import type { RoutingProblem } from './problem.js';

/** A day is a bit in places, and no plan looks farther ahead. */
const MOST_DAYS = 10;

/** @throws {RangeError} Naming the first thing in the problem that contradicts itself. */
export function validate(problem: RoutingProblem): void {
  const { travel, days, crewDays, orders, refillSites } = problem;
  const refuse = (what: string): never => {
    throw new RangeError(what);
  };
  const atLocation = (location: number, who: string) => {
    if (!(Number.isInteger(location) && location >= 0 && location < travel.size)) {
      refuse(`${who}: location ${location} is not in the travel matrix of ${travel.size}`);
    }
  };
  const onDay = (day: number, who: string) => {
    if (!(Number.isInteger(day) && day >= 0 && day < days.length)) {
      refuse(`${who}: day ${day} is not one of the ${days.length} days`);
    }
  };

  if (days.length > MOST_DAYS) refuse(`${days.length} days: at most ${MOST_DAYS} are planned at once`);
  refuseAmounts(problem, refuse);
  const calendar = problem.calendarDays;
  if (
    calendar &&
    (calendar.length !== days.length || calendar.some((day, i) => i > 0 && day <= calendar[i - 1]!))
  )
    refuse(`calendar days: ${days.length} days need as many, ascending`);
  const cells = travel.size * travel.size;
  if (travel.seconds.length !== cells || travel.metres.length !== cells) {
    refuse(`travel matrix: ${travel.size} locations need ${cells} cells`);
  }
  if (travel.seconds.some((seconds) => seconds < 0)) refuse('travel matrix: negative seconds');
  if (travel.metres.some((metres) => metres < 0)) refuse('travel matrix: negative metres');
  unique(
    orders.map((order) => order.id),
    'order',
    refuse,
  );
  unique(
    crewDays.map((crewDay) => crewDay.id),
    'crew-day',
    refuse,
  );

  for (const crewDay of crewDays) {
    const who = `crew-day ${crewDay.id}`;
    onDay(crewDay.day, who);
    atLocation(crewDay.startLocation, who);
    atLocation(crewDay.endLocation, who);
    if (crewDay.underWay) atLocation(crewDay.underWay.location, who);
    if (crewDay.shiftEndSeconds < crewDay.shiftStartSeconds)
      refuse(`${who}: the shift ends before it starts`);
    crewDay.breaks.forEach((rest, b) => {
      if (rest.latestStartSeconds < rest.earliestStartSeconds)
        refuse(`${who}: break ${b + 1} has no time to start`);
      const before = crewDay.breaks[b - 1];
      if (
        before &&
        (before.latestStartSeconds > rest.latestStartSeconds ||
          before.earliestStartSeconds + before.seconds > rest.latestStartSeconds)
      )
        refuse(`${who}: breaks out of sequence`);
    });
  }
  const known = new Set(orders.map((order) => order.id));
  const crewDayIds = new Set(crewDays.map((crewDay) => crewDay.id));
  for (const order of orders) {
    const who = `order ${order.id}`;
    atLocation(order.location, who);
    if (order.lock?.day !== undefined) onDay(order.lock.day, `${who}: locked`);
    if (order.accepted) onDay(order.accepted.day, `${who}: accepted`);
    for (const id of order.closedCrewDays ?? [])
      if (!crewDayIds.has(id)) refuse(`${who}: closed on ${id}, which is no crew-day`);
    for (const window of order.windows) if (window.day !== undefined) onDay(window.day, who);
    for (const { orderId } of order.follows) {
      if (!known.has(orderId)) refuse(`${who}: follows ${orderId}, which is not in the problem`);
    }
  }
  for (const site of refillSites) atLocation(site.location, `refill site ${site.id}`);
  refuseLoops(problem, refuse);
}

/** Refuses what is no number, or below zero where less than nothing makes no sense. */
function refuseAmounts(problem: RoutingProblem, refuse: (what: string) => never): void {
  const { crewDays, orders, refillSites, costs } = problem;
  const amounts = (who: string, named: object) => {
    for (const [name, value] of Object.entries(named))
      if (typeof value === 'number' && !(Number.isFinite(value) && value >= 0))
        refuse(`${who}: ${name} is ${value}, not a number from 0`);
  };
  const numbers = (who: string, named: object) => {
    for (const [name, value] of Object.entries(named))
      if (typeof value === 'number' && Number.isNaN(value)) refuse(`${who}: ${name} is not a number`);
  };
  amounts('costs', costs);
  for (const site of refillSites) amounts(`refill site ${site.id}`, site);
  for (const crewDay of crewDays) {
    const who = `crew-day ${crewDay.id}`;
    amounts(who, crewDay);
    amounts(`${who} under way`, crewDay.underWay ?? {});
    for (const rest of crewDay.breaks) amounts(`${who}: a break`, rest);
  }
  for (const order of orders) {
    const who = `order ${order.id}`;
    amounts(who, order);
    amounts(`${who}: minutes by crew`, order.serviceSecondsByCrew ?? {});
    amounts(`${who}: waiting cost by day`, order.waitingCost);
    for (const link of order.follows) amounts(`${who}: what it follows`, link);
    amounts(`${who}: accepted`, order.accepted ?? {});
    numbers(`${who}: lock`, order.lock ?? {});
    for (const window of order.windows) numbers(`${who}: a window`, window);
  }
}

function unique(ids: readonly string[], what: string, refuse: (what: string) => never): void {
  const seen = new Set<string>();
  for (const id of ids) {
    if (seen.has(id)) refuse(`${what} ${id} is there twice`);
    seen.add(id);
  }
}

function refuseLoops({ orders }: RoutingProblem, refuse: (what: string) => never): void {
  const follows = new Map(orders.map((order) => [order.id, order.follows.map((link) => link.orderId)]));
  const state = new Map<string, 'open' | 'done'>();
  const visit = (id: string): void => {
    if (state.get(id) === 'done') return;
    if (state.get(id) === 'open') refuse(`order ${id} follows itself in a loop`);
    state.set(id, 'open');
    for (const before of follows.get(id)!) visit(before);
    state.set(id, 'done');
  };
  for (const { id } of orders) visit(id);
}
