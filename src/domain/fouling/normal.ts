/** Normal distribution. Only `exp`, `log` and `sqrt`, so that every Node version gives the same digits. */

const ROOT_TWO_PI = 2.5066282746310002;

export function normalDensity(z: number): number {
  return Math.exp(-0.5 * z * z) / ROOT_TWO_PI;
}

/** Φ(z), to about 1e-15 relative in the body and 1e-7 far out; Hart's rational form as given by West (2005). */
export function normalCdf(z: number): number {
  const a = z < 0 ? -z : z;
  if (a > 37) return z > 0 ? 1 : 0;
  const e = Math.exp(-0.5 * a * a);
  let tail: number;
  if (a < 7.07106781186547) {
    const above =
      ((((((0.0352624965998911 * a + 0.700383064443688) * a + 6.37396220353165) * a + 33.912866078383) * a +
        112.079291497871) *
        a +
        221.213596169931) *
        a +
        220.206867912376) *
      e;
    const below =
      ((((((0.0883883476483184 * a + 1.75566716318264) * a + 16.064177579207) * a + 86.7807322029461) * a +
        296.564248779674) *
        a +
        637.333633378831) *
        a +
        793.826512519948) *
        a +
      440.413735824752;
    tail = above / below;
  } else {
    tail = e / (a + 1 / (a + 2 / (a + 3 / (a + 4 / (a + 0.65))))) / ROOT_TWO_PI;
  }
  return z > 0 ? 1 - tail : tail;
}

/** φ(z)/Φ(z): how far the mean of a normal moves, in sd, when everything below −z is cut off. */
export function hazardRatio(z: number): number {
  if (z < -30) return -z - 1 / z;
  return normalDensity(z) / normalCdf(z);
}
