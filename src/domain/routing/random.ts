/**
 * A small fast generator (sfc32): the same seed gives the same numbers on every machine.
 *
 * @see Doty-Humphrey, PractRand: the "small fast counting" generator with 32-bit words.
 */
export class Random {
  private a = 0;
  private b = 0;
  private c = 0;
  private counter = 1;

  constructor(seed: number) {
    this.a = seed | 0;
    this.b = Math.floor(seed / 0x1_0000_0000) | 0;
    this.c = 0x9e3779b9 | 0;
    for (let warmUp = 0; warmUp < 15; warmUp++) this.bits();
  }

  /** 32 random bits as a signed integer. */
  bits(): number {
    const sum = (((this.a + this.b) | 0) + this.counter) | 0;
    this.counter = (this.counter + 1) | 0;
    this.a = this.b ^ (this.b >>> 9);
    this.b = (this.c + (this.c << 3)) | 0;
    this.c = (((this.c << 21) | (this.c >>> 11)) + sum) | 0;
    return sum;
  }

  /** In [0, 1). */
  unit(): number {
    return (this.bits() >>> 0) / 0x1_0000_0000;
  }

  /** A whole number in [0, limit). */
  below(limit: number): number {
    return Math.floor(this.unit() * limit);
  }
}
