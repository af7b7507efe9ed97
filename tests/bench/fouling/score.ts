/** One line's forecast beside its truth; days. */
export interface Scored {
  readings: number;
  truth: number;
  quantiles: readonly [q10: number, q50: number, q90: number];
}

export const CLASSES = [
  ['all', 0, Infinity],
  ['0', 0, 0],
  ['1-2', 1, 2],
  ['3-5', 3, 5],
  ['6+', 6, Infinity],
] as const;

export interface Summary {
  lines: number;
  /** Lines with a date ahead, and the share of them that crossed before it. */
  dated: number;
  crossed: number;
  coverage: number;
  error: number;
  pinball: number;
  /** Share whose truth lies before the median and before the upper quantile. */
  below50: number;
  below90: number;
}

const CHANCES = [0.1, 0.5, 0.9] as const;

export function summary(lines: readonly Scored[], horizon: number): Summary {
  const bound = (days: number): number => Math.min(horizon, Math.max(7, days));
  const share = (some: readonly Scored[], of: (line: Scored) => boolean): number =>
    some.filter(of).length / Math.max(1, some.length);
  const dated = lines.filter(({ quantiles: [q10] }) => q10 > 1 && q10 < horizon - 30);
  const errors = lines
    .map(({ truth, quantiles: [, q50] }) => Math.abs(Math.log(bound(q50) / bound(truth))))
    .sort((a, b) => a - b);
  let pinball = 0;
  for (const { truth, quantiles } of lines) {
    CHANCES.forEach((p, i) => {
      const e = Math.log(bound(truth)) - Math.log(bound(quantiles[i] ?? 0));
      pinball += Math.max(p * e, (p - 1) * e) / 3;
    });
  }
  return {
    lines: lines.length,
    dated: dated.length,
    crossed: share(dated, ({ truth, quantiles: [q10] }) => truth <= q10),
    coverage: share(
      lines,
      ({ truth, quantiles: [q10, , q90] }) => truth >= q10 && (truth <= q90 || q90 >= horizon),
    ),
    error: errors[Math.floor(errors.length / 2)] ?? 0,
    pinball: pinball / Math.max(1, lines.length),
    below50: share(
      lines.filter(({ quantiles: [, q50] }) => q50 < horizon),
      ({ truth, quantiles: [, q50] }) => truth <= q50,
    ),
    below90: share(
      lines.filter(({ quantiles: [, , q90] }) => q90 < horizon),
      ({ truth, quantiles: [, , q90] }) => truth <= q90,
    ),
  };
}

/** Every line gets its class's own quantiles, fitted on the other half of the lines. */
export function noSkill(lines: readonly Scored[]): Scored[] {
  return CLASSES.slice(1).flatMap(([, low, high]) => {
    const some = lines.filter(({ readings }) => readings >= low && readings <= high);
    return [0, 1].flatMap((half) => {
      const sorted = some
        .filter((_, i) => i % 2 !== half)
        .map(({ truth }) => truth)
        .sort((a, b) => a - b);
      const at = (p: number): number => sorted[Math.floor(p * (sorted.length - 1))] ?? 0;
      const quantiles = [at(0.1), at(0.5), at(0.9)] as const;
      return some.filter((_, i) => i % 2 === half).map((line) => ({ ...line, quantiles }));
    });
  });
}

/** Lines said to be due at once, and the share of them truly over within 30 days. */
export function dueAtOnce(lines: readonly Scored[]): { lines: number; over: number } {
  const now = lines.filter(({ quantiles: [q10] }) => q10 <= 1);
  return { lines: now.length, over: now.filter(({ truth }) => truth <= 30).length / Math.max(1, now.length) };
}
