/** Lowest, middle and highest of a measure repeated, in the measure's own unit. */
export interface Spread {
  min: number;
  median: number;
  max: number;
}

export function spreadOf(values: readonly number[]): Spread {
  const sorted = [...values].sort((a, b) => a - b);
  return {
    min: sorted[0] ?? Number.NaN,
    median: sorted[sorted.length >> 1] ?? Number.NaN,
    max: sorted.at(-1) ?? Number.NaN,
  };
}

/** "median unit (min to max of n)". */
export function spreadText(values: readonly number[], unit: string, digits = 2): string {
  const { min, median, max } = spreadOf(values);
  const shown = (x: number) => x.toFixed(digits);
  return values.length === 1
    ? `${shown(median)} ${unit} (once)`
    : `${shown(median)} ${unit} (${shown(min)} to ${shown(max)} of ${values.length})`;
}

/** A fixed amount of integer work, ms: its spread is the machine's noise, its middle the machine's pace. */
export function fixedLoopMs(): number {
  const table = new Int32Array(1 << 16).map((_, i) => Math.imul(i, 0x9e3779b1));
  const startedAt = performance.now();
  let sum = 0;
  for (let i = 0; i < 40_000_000; i++) sum = (sum + table[(sum ^ i) & 0xffff]!) | 0;
  return performance.now() - startedAt + (sum === 0.5 ? 1 : 0);
}

/** One line on how steady the machine is right now. */
export function noiseText(times = 9): string {
  fixedLoopMs(); // compiles it
  const loops = Array.from({ length: times }, fixedLoopMs);
  const { min, max } = spreadOf(loops);
  return `machine: fixed loop ${spreadText(loops, 'ms', 0)}, slowest ${(max / min).toFixed(2)} × fastest`;
}
