/** A ruin hits a handful of routes and finds them among the nearest; longer lists only cost memory. */
const LONGEST_LIST = 300;
/** How near "near" is when the typical leg is taken. */
const TYPICAL_RANK = 10;

/** For each order the other orders by travel there and back, nearest first; ties by canonical order. */
export function neighbourLists(
  locationOf: Int32Array,
  orderCount: number,
  arcCost: Int32Array,
  size: number,
) {
  const neighbourCount = Math.max(0, Math.min(orderCount - 1, LONGEST_LIST));
  const neighbours = new Int32Array(orderCount * neighbourCount);
  const keys = new Float64Array(Math.max(0, orderCount - 1));
  let legSum = 0;
  let legs = 0;
  for (let c = 0; c < orderCount; c++) {
    const here = locationOf[c]!;
    let at = 0;
    for (let other = 0; other < orderCount; other++) {
      if (other === c) continue;
      const there = locationOf[other]!;
      // Distance and index in one number sort natively and without a comparator.
      keys[at++] = (arcCost[here * size + there]! + arcCost[there * size + here]!) * orderCount + other;
    }
    keys.sort();
    for (let rank = 0; rank < neighbourCount; rank++) {
      const key = keys[rank]!;
      const other = key % orderCount;
      neighbours[c * neighbourCount + rank] = other;
      if (rank < TYPICAL_RANK) {
        legSum += (key - other) / orderCount / 2;
        legs++;
      }
    }
  }
  return { neighbours, neighbourCount, typicalLeg: legs > 0 ? Math.max(1, legSum / legs) : 1 };
}
