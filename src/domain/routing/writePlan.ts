import type { Budget } from './budget.js';
import type { InsertionCache } from './insertionCache.js';
import { moveCostOn, unplacedCostOf } from './orderTerms.js';
import { overtimeBought } from './overtimeBought.js';
import type { CostBreakdown, Plan } from './plan.js';
import type { RouteState } from './routeState.js';
import { scheduleRoute } from './schedule.js';
import { explainUnplaced } from './unplaced.js';

/** The routes in `state` as an answer for people. */
export function writePlan(
  state: RouteState,
  cache: InsertionCache,
  iterations: number,
  budget: Budget,
): Plan {
  const { model } = state;
  const out = [];
  for (let v = 0; v < model.crewDayCount; v++) {
    if (state.length[v]! > 0 || model.crewDays[v]!.underWay) out.push(v);
  }
  return {
    routes: out.map((v) => scheduleRoute(state, v)),
    unplaced: explainUnplaced(state, cache, budget),
    cost: breakDown(state),
    overtime: overtimeBought(state, cache, budget),
    iterations,
  };
}

function breakDown(state: RouteState): CostBreakdown {
  const { model } = state;
  let overtime = 0;
  let crewUse = 0;
  let waiting = 0;
  let moves = 0;
  let routes = 0;
  for (let v = 0; v < model.crewDayCount; v++) {
    routes += state.routeCost[v]!;
    overtime += state.overtimeCost[v]!;
    if (state.length[v]! > 0 && !model.crewDays[v]!.underWay) crewUse += model.crewDays[v]!.useCost;
  }
  let unplaced = 0;
  model.orders.forEach((order, c) => {
    const v = state.routeOf[c]!;
    if (v === -1) {
      unplaced += unplacedCostOf(order);
      return;
    }
    const crewDay = model.crewDays[v]!;
    waiting += order.waitingCost[crewDay.day] ?? 0;
    moves += moveCostOn(order, crewDay);
  });
  const driving = routes - overtime - crewUse - waiting - moves;
  return { driving, overtime, crewUse, waiting, moves, unplaced, total: routes + unplaced };
}
