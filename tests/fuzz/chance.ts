import { Random } from '../../src/domain/routing/random.js';

/** Draws of one seed. */
export class Chance {
  private readonly random: Random;

  constructor(seed: number) {
    this.random = new Random(seed);
  }

  unit(): number {
    return this.random.unit();
  }

  is(share: number): boolean {
    return this.unit() < share;
  }

  /** A whole number from `least` to `most`, both possible. */
  whole(least: number, most: number): number {
    return least + Math.floor(this.unit() * (most - least + 1));
  }

  of<T>(list: readonly T[]): T {
    if (list.length === 0) throw new RangeError('nothing to draw from');
    return list[Math.floor(this.unit() * list.length)] as T;
  }

  /** A version 4 id. */
  id(): string {
    const hex = Array.from({ length: 32 }, () => Math.floor(this.unit() * 16).toString(16));
    hex[12] = '4';
    hex[16] = this.of(['8', '9', 'a', 'b']);
    const text = hex.join('');
    return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20)].join(
      '-',
    );
  }
}
