/**
 * Growth law shared by all lines: dx/dy = f(x), log f = k1 (x − ¼) + k2 (x − ¼)², held within ±4, where y runs
 * straight with time and G(x) = ∫ dx/f. Scaled so that G(½) = ½: a line's rate is its mean speed from empty to half.
 * k1 > 0 speeds up, k1 < 0 slows down, k2 < 0 starts and ends slowly.
 */
export interface GrowthShape {
  k1: number;
  k2: number;
  /** y at even steps of x from LOW_X. */
  yOfX: Float64Array;
  /** dx/dy at the same steps. */
  slopeOfX: Float64Array;
  /** x, and dx/dy, at even steps of y. */
  xOfY: Float64Array;
  slopeOfY: Float64Array;
  lowY: number;
  stepsPerY: number;
}

/** Levels outside are held at the ends: a filter may stray a little below empty and above full. */
export const LOW_X = -0.2;
export const HIGH_X = 1.3;
const X_STEPS = 600;
export const STEPS_PER_X = X_STEPS / (HIGH_X - LOW_X);
const Y_STEPS = 2048;

export function growthShape(k1: number, k2: number): GrowthShape {
  const yOfX = new Float64Array(X_STEPS + 2);
  const slopeOfX = new Float64Array(X_STEPS + 2);
  for (let i = 0; i < slopeOfX.length; i++) {
    const u = LOW_X + i / STEPS_PER_X - 0.25;
    slopeOfX[i] = Math.exp(Math.max(-4, Math.min(4, k1 * u + k2 * u * u)));
  }
  for (let i = 1; i < yOfX.length; i++) {
    yOfX[i] = yOfX[i - 1]! + (1 / slopeOfX[i - 1]! + 1 / slopeOfX[i]!) / (2 * STEPS_PER_X);
  }
  const zero = at(yOfX, 0);
  const scale = 0.5 / (at(yOfX, 0.5) - zero);
  for (let i = 0; i < yOfX.length; i++) {
    yOfX[i] = (yOfX[i]! - zero) * scale;
    slopeOfX[i] = slopeOfX[i]! / scale;
  }
  const lowY = yOfX[0]!;
  const stepsPerY = Y_STEPS / (yOfX[X_STEPS]! - lowY);
  const xOfY = inverse(yOfX, lowY, stepsPerY);
  return { k1, k2, yOfX, slopeOfX, xOfY, slopeOfY: xOfY.map((x) => at(slopeOfX, x)), lowY, stepsPerY };
}

function inverse(yOfX: Float64Array, lowY: number, stepsPerY: number): Float64Array {
  const xOfY = new Float64Array(Y_STEPS + 2);
  let i = 0;
  for (let j = 0; j < xOfY.length; j++) {
    const y = lowY + j / stepsPerY;
    while (i < X_STEPS - 1 && yOfX[i + 1]! < y) i++;
    const part = (y - yOfX[i]!) / (yOfX[i + 1]! - yOfX[i]!);
    xOfY[j] = Math.min(HIGH_X, LOW_X + (i + part) / STEPS_PER_X);
  }
  return xOfY;
}

function at(table: Float64Array, x: number): number {
  const place = Math.max(0, Math.min(X_STEPS, (x - LOW_X) * STEPS_PER_X));
  const i = place | 0;
  return table[i]! + (place - i) * (table[i + 1]! - table[i]!);
}

/** Transformed level G(x). */
export function levelToY(shape: GrowthShape, x: number): number {
  return at(shape.yOfX, x);
}

/** dx/dy at a level. */
export function slopeAt(shape: GrowthShape, x: number): number {
  return at(shape.slopeOfX, x);
}

/** Level of a transformed level, the inverse of `levelToY`. */
export function yToLevel(shape: GrowthShape, y: number): number {
  const place = Math.max(0, Math.min(Y_STEPS, (y - shape.lowY) * shape.stepsPerY));
  const i = place | 0;
  return shape.xOfY[i]! + (place - i) * (shape.xOfY[i + 1]! - shape.xOfY[i]!);
}
