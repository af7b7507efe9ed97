import { Random } from '../domain/routing/random.js';

/** Chance of the simulated business: the same seed and branch give the same draws on every machine. */
export class Chance {
  private readonly random: Random;
  private readonly seed: number;

  /** @param branch Tells streams of one seed apart, so that a change in one part leaves the others alone. */
  constructor(seed: number, branch = 0) {
    this.seed = seed;
    this.random = new Random(seed + branch * 0x1_0000_0000);
  }

  branch(number: number): Chance {
    return new Chance(this.seed, number);
  }

  /** In [0, 1). */
  unit(): number {
    return this.random.unit();
  }

  happens(probability: number): boolean {
    return this.random.unit() < probability;
  }

  between(from: number, to: number): number {
    return from + (to - from) * this.random.unit();
  }

  /** A whole number from `from` to `to`, both included. */
  whole(from: number, to: number): number {
    return from + this.random.below(to - from + 1);
  }

  pick<T>(items: readonly T[]): T {
    const item = items[this.random.below(items.length)];
    if (item === undefined) throw new RangeError('nothing to pick from');
    return item;
  }

  /** A key of `weights`, each as likely as its weight says. */
  weighted<K extends string>(weights: Readonly<Partial<Record<K, number>>>): K {
    const entries = Object.entries(weights) as [K, number][];
    let left = this.random.unit() * entries.reduce((sum, [, weight]) => sum + weight, 0);
    for (const [key, weight] of entries) {
      left -= weight;
      if (left < 0) return key;
    }
    const last = entries.at(-1);
    if (last === undefined) throw new RangeError('nothing to pick from');
    return last[0];
  }

  /** Mean 0, standard deviation 1 (Box and Muller). */
  normal(): number {
    const radius = Math.sqrt(-2 * Math.log(1 - this.random.unit()));
    return radius * Math.cos(2 * Math.PI * this.random.unit());
  }

  /** Gamma variate of scale 1. @see Marsaglia & Tsang (2000), ACM TOMS 26(3), 363-372. */
  gamma(shape: number): number {
    if (shape < 1) return this.gamma(shape + 1) * Math.exp(Math.log(1 - this.random.unit()) / shape);
    const d = shape - 1 / 3;
    const c = 1 / Math.sqrt(9 * d);
    for (;;) {
      const z = this.normal();
      const t = 1 + c * z;
      const v = t * t * t;
      if (v > 0 && Math.log(1 - this.random.unit()) < 0.5 * z * z + d - d * v + d * Math.log(v)) return d * v;
    }
  }
}
