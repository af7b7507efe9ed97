import type { CrewDay, Order, RoutingProblem } from '../../../src/domain/routing/problem.js';

/**
 * The least total cost over every way to deal the orders to the crew-days in every sequence, by trying all.
 * Knows travel, windows, kit, people, shift, overtime, waiting cost, use cost and leaving out.
 */
export function bruteForceCost(problem: RoutingProblem): number {
  let best = Infinity;
  const routes: Order[][] = problem.crewDays.map(() => []);
  const deal = (index: number, left: number) => {
    const order = problem.orders[index];
    if (!order) {
      const cost = routes.reduce(
        (sum, route, v) => sum + routeCost(problem, problem.crewDays[v]!, route),
        left,
      );
      if (cost < best) best = cost;
      return;
    }
    deal(index + 1, left + (order.unplacedCost ?? Infinity));
    for (const route of routes) {
      for (let at = 0; at <= route.length; at++) {
        route.splice(at, 0, order);
        deal(index + 1, left);
        route.splice(at, 1);
      }
    }
  };
  deal(0, 0);
  return best;
}

function routeCost(problem: RoutingProblem, crewDay: CrewDay, route: readonly Order[]): number {
  if (route.length === 0) return 0;
  const { travel } = problem;
  let clock = crewDay.shiftStartSeconds;
  let here = crewDay.startLocation;
  let cost = crewDay.useCost;
  const go = (to: number) => {
    const seconds = travel.seconds[here * travel.size + to]!;
    clock += seconds;
    cost += Math.round((seconds * problem.costs.drivingPerHour) / 3600);
    here = to;
  };
  for (const order of route) {
    go(order.location);
    if (order.people > crewDay.people || !order.needs.every((kind) => crewDay.kit.includes(kind)))
      return Infinity;
    const starts = order.windows
      .filter((window) => (window.day ?? crewDay.day) === crewDay.day && clock <= window.toSeconds)
      .map((window) => Math.max(clock, window.fromSeconds));
    if (order.windows.length > 0) clock = Math.min(...starts);
    clock += order.serviceSecondsByCrew?.[crewDay.crewId] ?? order.serviceSeconds;
    cost += order.waitingCost[crewDay.day] ?? 0;
  }
  go(crewDay.endLocation);
  const over = Math.max(0, clock - crewDay.shiftEndSeconds);
  if (over > crewDay.overtimeSeconds) return Infinity;
  return cost + Math.round((over * crewDay.overtimePerHour) / 3600);
}
