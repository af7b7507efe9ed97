import { type Budget, NO_ITERATION } from './budget.js';
import type { InsertionCache } from './insertionCache.js';
import type { SearchProgress } from './plan.js';
import type { Random } from './random.js';
import { Recreate } from './recreate.js';
import type { RouteState } from './routeState.js';
import { Ruin } from './ruin.js';
import { Snapshot } from './snapshot.js';

/**
 * Temperature at the start and the end, in units of the geometric mean of a leg between near orders and a
 * usual setback (`usualSetback`). Measured at 2 s, mean of two or three seeds: in legs alone the Solomon set
 * ends at 0.27 % but the day of 260 orders at 1,003,700; in setbacks alone 0.37 to 0.55 % and 988,000 to
 * 1,043,000; in the mean of both 0.29 % and 980,000 to 989,000.
 */
const HOT = 3;
const COLD = 0.02;
/** A search from a given plan starts this much cooler. */
const WARM_START = 0.1;
/** Ruins that are only looked at and taken back. */
const SAMPLES = 200;
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
  if (model.orderCount === 0 || model.crewDayCount === 0) return 0;
  const setback = budget(0) >= 1 ? 1 : usualSetback(kept, ruin, recreate, model.mustCost, budget);
  const scale = Math.sqrt(model.typicalLeg * setback);
  const hot = HOT * scale * (warm ? WARM_START : 1);
  const cold = COLD * scale;

  let iteration = 0;
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

/** Lower quartile of how much worse the first ruins make the routes, lost orders that must be placed apart. */
function usualSetback(
  kept: Snapshot,
  ruin: Ruin,
  recreate: Recreate,
  mustCost: number,
  budget: Budget,
): number {
  const setbacks: number[] = [];
  for (let sample = 0; sample < SAMPLES && budget(NO_ITERATION) < 1; sample++) {
    ruin.run();
    recreate.run(ruin);
    const worse = kept.costAfter(ruin, recreate) - kept.cost;
    if (worse > 0 && worse < mustCost / 2) setbacks.push(worse);
    kept.restore();
  }
  setbacks.sort((a, b) => a - b);
  return setbacks[Math.floor(setbacks.length / 4)] ?? 1;
}
