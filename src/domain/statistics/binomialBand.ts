/**
 * The central 95 % of how many of `count` independent cases of chance `chance` come true, as shares of the count.
 * Sums the probabilities outward from the likeliest number, so no count is too large for it.
 *
 * @throws {RangeError} When `count` is not a whole number from 1 or `chance` is outside 0 to 1.
 */
export function binomialBand(count: number, chance: number): { low: number; high: number } {
  if (!Number.isInteger(count) || count < 1) throw new RangeError(`not a count of cases: ${count}`);
  if (!(chance >= 0 && chance <= 1)) throw new RangeError(`not a chance: ${chance}`);
  if (chance === 0 || chance === 1) return { low: chance, high: chance };
  const mode = Math.min(count, Math.floor((count + 1) * chance));
  const below = weightsFrom(mode, -1, count, chance);
  const above = weightsFrom(mode, 1, count, chance);
  const total = sum(below) + sum(above) + 1;
  return {
    low: (mode - stepsInside(below, total)) / count,
    high: (mode + stepsInside(above, total)) / count,
  };
}

/** Weight left outside on either side. */
const TAIL = 0.025;
const NEGLIGIBLE = 1e-17;

/** Weights of the numbers beside the mode, relative to the mode's own. */
function weightsFrom(mode: number, way: 1 | -1, count: number, chance: number): number[] {
  const odds = chance / (1 - chance);
  const weights: number[] = [];
  let weight = 1;
  for (let k = mode; way === 1 ? k < count : k > 0; k += way) {
    weight *= way === 1 ? ((count - k) / (k + 1)) * odds : k / (count - k + 1) / odds;
    if (weight < NEGLIGIBLE) break;
    weights.push(weight);
  }
  return weights;
}

/** How far one can go from the mode before no more than the tail is left beyond. */
function stepsInside(weights: readonly number[], total: number): number {
  let tail = 0;
  for (let steps = weights.length; steps > 0; steps -= 1) {
    tail += weights[steps - 1] ?? 0;
    if (tail > TAIL * total) return steps;
  }
  return 0;
}

function sum(values: readonly number[]): number {
  return values.reduceRight((total, value) => total + value, 0);
}
