import type { Random } from '../../../src/domain/routing/random.js';

/** Standard normal. @see Box & Muller (1958). */
export function normal(random: Random): number {
  return Math.sqrt(-2 * Math.log(1 - random.unit())) * Math.cos(2 * Math.PI * random.unit());
}

/** Gamma of scale 1. @see Marsaglia & Tsang (2000), ACM Trans. Math. Softw. 26(3), with their boost below shape 1. */
export function gamma(shape: number, random: Random): number {
  if (shape < 1) return gamma(shape + 1, random) * Math.exp(Math.log(1 - random.unit()) / shape);
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const z = normal(random);
    const v = (1 + c * z) ** 3;
    if (v > 0 && Math.log(1 - random.unit()) < 0.5 * z * z + d - d * v + d * Math.log(v)) return d * v;
  }
}

/** One of the words, with the chances given; they add to 1. */
export function oneOf<W extends string>(random: Random, chances: Record<W, number>): W {
  let left = random.unit();
  const words = Object.keys(chances) as W[];
  for (const word of words) {
    left -= chances[word];
    if (left < 0) return word;
  }
  return words.at(-1) as W;
}
