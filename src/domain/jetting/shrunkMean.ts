/** A mean of few, drawn toward what is known of all. */
export interface Shrunk {
  mean: number;
  sd: number;
  /** Weight of its own values, 0 to 1. */
  weight: number;
}

/**
 * Normal mean of `count` values of its own with spread `sd` each, drawn toward a prior: (n τ² x̄ + s² μ)/(n τ² + s²).
 *
 * @param count May be a length of time, where the spread is that of a unit of it.
 */
export function shrunkMean(
  own: { count: number; mean: number; sd: number },
  prior: { mean: number; sd: number },
): Shrunk {
  const known = own.count * prior.sd ** 2;
  const weight = known / (known + own.sd ** 2);
  return {
    mean: weight * own.mean + (1 - weight) * prior.mean,
    sd: prior.sd * Math.sqrt(1 - weight),
    weight,
  };
}
