import { compileAbility } from './ability.js';
import type { DayLink, Model } from './model.js';
import { neighbourLists } from './neighbourLists.js';
import { breaksAhead, placeCostOn, serviceOn, spansOn, unplacedCostOf } from './orderTerms.js';
import type { CrewDay, Order, RoutingProblem } from './problem.js';
import { validate } from './validate.js';
import { NEVER } from './windows.js';

const byId = (a: { id: string }, b: { id: string }) => (a.id < b.id ? -1 : a.id > b.id ? 1 : 0);

/** Turns a problem into numbers. @throws {RangeError} When the problem contradicts itself. */
export function compile(problem: RoutingProblem): Model {
  validate(problem);
  const orders = [...problem.orders].sort(byId);
  const crewDays = [...problem.crewDays].sort((a, b) => a.day - b.day || byId(a, b));
  const orderIndex = new Map(orders.map((order, c) => [order.id, c]));
  const n = orders.length;
  const V = crewDays.length;

  const arcs = compileArcs(problem);
  const locationOf = Int32Array.from([
    ...orders.map((order) => order.location),
    ...crewDays.map((crewDay) => crewDay.underWay?.location ?? crewDay.startLocation),
    ...crewDays.map((crewDay) => crewDay.endLocation),
  ]);
  const ability = compileAbility(problem, orders, crewDays);
  const links = compileLinks(orders, orderIndex);
  const near = neighbourLists(locationOf, n, arcs.arcCost, problem.travel.size);

  return {
    problem,
    orders,
    crewDays,
    orderIndex,
    crewDayIndex: new Map(crewDays.map((crewDay, v) => [crewDay.id, v])),
    orderCount: n,
    crewDayCount: V,
    dayCount: problem.days.length,
    nodeCount: n + 2 * V,
    size: problem.travel.size,
    ...arcs,
    locationOf,
    calendarOf: Int32Array.from(crewDays, ({ day }) => problem.calendarDays?.[day] ?? day),
    ...compileCrewDays(crewDays, arcs.arcCost, problem.travel.size),
    crewDayClass: crewDayClasses(crewDays, orders, problem),
    ...compileBreaks(crewDays),
    ...ability,
    serviceSeconds: perPair(Int32Array, orders, crewDays, serviceOn),
    placeCost: perPair(Float64Array, orders, crewDays, placeCostOn),
    ...leaveCosts(orders, crewDays, arcs.arcCost),
    ...compileWindows(orders, problem.days.length),
    ...compileTanks(orders, crewDays),
    refillSites: [...problem.refillSites].sort(byId),
    ...links,
    sequence: Int32Array.from(orders, (order) => order.lock?.sequence ?? -1),
    ordered: Uint8Array.from(orders, (order, c) =>
      order.lock?.sequence !== undefined ||
      [...links.before[c]!, ...links.after[c]!].some((l) => l.minDays === 0)
        ? 1
        : 0,
    ),
    linked: Uint8Array.from(orders, (_, c) => {
      const K = ability.sharedKinds.length;
      const shared = ability.needsShared.subarray(c * K, (c + 1) * K).includes(1);
      return shared || links.before[c]!.length + links.after[c]!.length > 0 ? 1 : 0;
    }),
    ...near,
  };
}

function compileArcs({ travel, costs }: RoutingProblem) {
  const perSecond = costs.drivingPerHour / 3600;
  const perMetre = costs.drivingPerKm / 1000;
  // One array for both when a second costs one unit: half the memory for the inner loop to read.
  if (perSecond === 1 && perMetre === 0) return { arcCost: travel.seconds, arcSeconds: travel.seconds };
  const arcCost = new Int32Array(travel.seconds.length);
  for (let a = 0; a < arcCost.length; a++) {
    arcCost[a] = Math.round(travel.seconds[a]! * perSecond + travel.metres[a]! * perMetre);
  }
  return { arcCost, arcSeconds: travel.seconds };
}

function compileCrewDays(crewDays: readonly CrewDay[], arcCost: Int32Array, size: number) {
  return {
    dayOf: Int32Array.from(crewDays, (c) => c.day),
    shiftStart: Int32Array.from(crewDays, (c) => c.underWay?.freeAtSeconds ?? c.shiftStartSeconds),
    shiftEnd: Int32Array.from(crewDays, (c) => c.shiftEndSeconds),
    latestEnd: Int32Array.from(crewDays, (c) => c.shiftEndSeconds + c.overtimeSeconds),
    overtimePerHour: Float64Array.from(crewDays, (c) => c.overtimePerHour),
    emptyLeg: Float64Array.from(crewDays, (c) =>
      c.underWay ? arcCost[c.underWay.location * size + c.endLocation]! : 0 - c.useCost,
    ),
  };
}

/** Crews that an order names (own minutes, locks, accepted place, shared items) are in a class of their own. */
function crewDayClasses(crewDays: readonly CrewDay[], orders: readonly Order[], problem: RoutingProblem) {
  const named = new Set<string>(problem.sharedKit.flatMap((item) => item.crews ?? []));
  const closed = new Set<string>();
  for (const order of orders) {
    for (const crewId of Object.keys(order.serviceSecondsByCrew ?? {})) named.add(crewId);
    for (const crewId of order.onlyCrews ?? []) named.add(crewId);
    for (const crewDayId of order.closedCrewDays ?? []) closed.add(crewDayId);
    if (order.lock?.crewId !== undefined) named.add(order.lock.crewId);
    if (order.accepted) named.add(order.accepted.crewId);
  }
  const numbers = new Map<string, number>();
  return Int32Array.from(crewDays, (crewDay, v) => {
    const { id, crewId, crewName: _name, kit, ...rest } = crewDay;
    const own = named.has(crewId) || closed.has(id) ? v : -1;
    const key = JSON.stringify([own, [...kit].sort(), Object.entries(rest).sort()]);
    if (!numbers.has(key)) numbers.set(key, numbers.size);
    return numbers.get(key)!;
  });
}

function compileBreaks(crewDays: readonly CrewDay[]) {
  const breaks = crewDays.map(breaksAhead);
  const maxBreaks = Math.max(0, ...breaks.map((own) => own.length));
  const cells = crewDays.length * maxBreaks;
  const breakEarliest = new Int32Array(cells);
  const breakLatest = new Int32Array(cells);
  const breakSeconds = new Int32Array(cells);
  breaks.forEach((own, v) => {
    own.forEach((rest, b) => {
      breakEarliest[v * maxBreaks + b] = rest.earliestStartSeconds;
      breakLatest[v * maxBreaks + b] = rest.latestStartSeconds;
      breakSeconds[v * maxBreaks + b] = rest.seconds;
    });
  });
  const breakCount = Int32Array.from(breaks, (own) => own.length);
  return { maxBreaks, breakCount, breakEarliest, breakLatest, breakSeconds };
}

function perPair<A extends Int32Array | Float64Array>(
  Numbers: new (length: number) => A,
  orders: readonly Order[],
  crewDays: readonly CrewDay[],
  value: (order: Order, crewDay: CrewDay) => number,
): A {
  const table = new Numbers(orders.length * crewDays.length);
  let at = 0;
  for (const order of orders) for (const crewDay of crewDays) table[at++] = value(order, crewDay);
  return table;
}

/** More than every other cost together, so that no saving pays for an order that must be placed. */
function leaveCosts(orders: readonly Order[], crewDays: readonly CrewDay[], arcCost: Int32Array) {
  let longestArc = 0;
  for (const cost of arcCost) if (cost > longestArc) longestArc = cost;
  let all = (orders.length + crewDays.length + 1) * 4 * (longestArc + 1);
  for (const order of orders) {
    all += unplacedCostOf(order) + Math.max(0, ...order.waitingCost) + (order.accepted?.otherCrewCost ?? 0);
  }
  for (const c of crewDays) all += c.useCost + Math.ceil((c.overtimeSeconds * c.overtimePerHour) / 3600);
  const leaveCost = Float64Array.from(orders, (order) =>
    order.unplacedCost === null ? all : unplacedCostOf(order),
  );
  return { leaveCost, mustCost: all };
}

function compileWindows(orders: readonly Order[], dayCount: number) {
  const first = new Int32Array(orders.length * dayCount + 1);
  const opens = new Int32Array(orders.length * dayCount);
  const closes = new Int32Array(orders.length * dayCount);
  const gapped = new Uint8Array(orders.length * dayCount);
  const from: number[] = [];
  const to: number[] = [];
  orders.forEach((order, c) => {
    for (let day = 0; day < dayCount; day++) {
      const pair = c * dayCount + day;
      const spans = spansOn(order, day);
      for (const span of spans) {
        from.push(span.from);
        to.push(span.to);
      }
      first[pair + 1] = from.length;
      opens[pair] = spans[0]?.from ?? NEVER;
      closes[pair] = spans.at(-1)?.to ?? -1;
      gapped[pair] = spans.length > 1 ? 1 : 0;
    }
  });
  const windows = { first, from: Int32Array.from(from), to: Int32Array.from(to) };
  return { windows, opens, closes, gapped };
}

function compileTanks(orders: readonly Order[], crewDays: readonly CrewDay[]) {
  const fullWater = Float64Array.from(crewDays, (c) => c.tankLitres ?? Infinity);
  const fullRoom = Float64Array.from(crewDays, (c) => c.wasteLitres ?? Infinity);
  return {
    waterLitres: Float64Array.from(orders, (order) => order.waterLitres),
    wasteLitres: Float64Array.from(orders, (order) => order.wasteLitres),
    fullWater,
    fullRoom,
    startWater: fullWater.map((full, v) =>
      full === Infinity ? full : Math.min(full, crewDays[v]!.underWay?.tankLitresLeft ?? full),
    ),
    startRoom: fullRoom.map((full, v) => full - (crewDays[v]!.underWay?.wasteLitresOnBoard ?? 0)),
  };
}

function compileLinks(orders: readonly Order[], orderIndex: ReadonlyMap<string, number>) {
  const before: DayLink[][] = orders.map(() => []);
  const after: DayLink[][] = orders.map(() => []);
  orders.forEach((order, c) => {
    for (const { orderId, minDaysBetween } of order.follows) {
      const predecessor = orderIndex.get(orderId)!;
      before[c]!.push({ order: predecessor, minDays: minDaysBetween });
      after[predecessor]!.push({ order: c, minDays: minDaysBetween });
    }
  });
  const depth = new Int32Array(orders.length);
  const fill = (c: number): number => {
    if (depth[c] === 0) depth[c] = 1 + Math.max(0, ...before[c]!.map((link) => fill(link.order)));
    return depth[c]!;
  };
  orders.forEach((_, c) => {
    fill(c);
  });
  return { before, after, depth };
}
