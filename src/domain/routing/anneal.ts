import type { Budget } from './budget.js';
import type { InsertionCache } from './insertionCache.js';
import type { SearchProgress } from './plan.js';
import type { Random } from './random.js';
import { Recreate } from './recreate.js';
import type { RouteState } from './routeState.js';
import { Ruin } from './ruin.js';
import { Snapshot } from './snapshot.js';

/** Temperature at the start and the end of a search, in typical legs. */
const HOT = 0.3;
const COLD = 0.003;
/** A search from a given plan starts this much cooler. */
const WARM_START = 0.1;
/** Iterations between two looks at the budget. */
const STRIDE = 32;

/**
 * Ruins and recreates the routes in `state` until the budget is used up, and leaves the best found in it.
 * A worse result is accepted the more rarely the later it is: simulated annealing over the budget.
 *
 * @returns Iterations done.
 */
export function anneal(
  state: RouteState,
  cache: InsertionCache,
  random: Random,
  budget: Budget,
  warm: boolean,
  onProgress?: (progress: SearchProgress) => void,
): number {
  const { model } = state;
  const ruin = new Ruin(state, random);
  const recreate = new Recreate(state, cache, random);
  const kept = new Snapshot(state);
  const best = new Snapshot(state);
  let bestCost = kept.cost;
  const hot = HOT * model.typicalLeg * (warm ? WARM_START : 1);
  const cold = COLD * model.typicalLeg;

  let iteration = 0;
  if (model.orderCount === 0 || model.crewDayCount === 0) return 0;
  for (;;) {
    const share = budget(iteration);
    onProgress?.({ iteration, share: Math.min(1, share), bestCost, unplaced: best.absentCount });
    if (share >= 1) break;
    const temperature = hot * (cold / hot) ** share;
    for (let step = 0; step < STRIDE; step++) {
      iteration++;
      ruin.run();
      recreate.run(ruin);
      const cost = kept.costAfter(ruin, recreate);
      if (cost < kept.cost - temperature * Math.log(1 - random.unit())) {
        kept.follow(cost);
        if (cost < bestCost) {
          bestCost = cost;
          best.copy(kept);
        }
      } else {
        kept.restore();
      }
    }
  }
  best.restoreAll();
  return iteration;
}
