/** Own 32-bit generator (mulberry32): the same seed, the same business. */
export interface Chance {
  /** 0 up to but not 1. */
  next(): number;
  normal(): number;
  /** Marsaglia and Tsang (2000). */
  gamma(shape: number): number;
  pick<T>(items: readonly T[]): T;
}

export function chance(seed: number): Chance {
  let state = seed >>> 0;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
  const normal = (): number => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
  const gamma = (shape: number): number => {
    if (shape < 1) return gamma(shape + 1) * Math.exp(Math.log(1 - next()) / shape);
    const d = shape - 1 / 3;
    const c = 1 / Math.sqrt(9 * d);
    for (;;) {
      const x = normal();
      const v = (1 + c * x) ** 3;
      if (v > 0 && Math.log(1 - next()) < 0.5 * x * x + d - d * v + d * Math.log(v)) return d * v;
    }
  };
  return {
    next,
    normal,
    gamma,
    pick(items) {
      const item = items[Math.floor(next() * items.length)];
      if (item === undefined) throw new RangeError('nothing to pick from');
      return item;
    },
  };
}
