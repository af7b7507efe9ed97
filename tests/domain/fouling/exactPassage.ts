/**
 * Exact distributions that the estimator's approximations are held against: regularised incomplete gamma and beta
 * functions by series and continued fraction, and the inverse Gaussian.
 *
 * @see Press et al. (2007), Numerical Recipes, 3rd ed., §6.2 and §6.4; Lanczos (1964) for ln Γ.
 */
import { normalCdf } from '../../../src/domain/fouling/normal.js';

const LANCZOS = [
  0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313, -176.61502916214059,
  12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7,
];

export function logGamma(x: number): number {
  if (x < 0.5) return Math.log(Math.PI / Math.sin(Math.PI * x)) - logGamma(1 - x);
  const t = x - 1 + 7.5;
  const sum = LANCZOS.reduce((total, c, i) => total + (i === 0 ? c : c / (x - 1 + i)), 0);
  return 0.5 * Math.log(2 * Math.PI) + (x - 0.5) * Math.log(t) - t + Math.log(sum);
}

/** P(a, x): share of a gamma variable of shape a and scale 1 below x. */
export function gammaP(a: number, x: number): number {
  if (x <= 0) return 0;
  const front = Math.exp(a * Math.log(x) - x - logGamma(a));
  if (x < a + 1) {
    let term = 1 / a;
    let sum = term;
    for (let n = 1; n < 10_000 && Math.abs(term) > 1e-17 * Math.abs(sum); n++) {
      term *= x / (a + n);
      sum += term;
    }
    return front * sum;
  }
  let b = x + 1 - a;
  let c = 1e300;
  let d = 1 / b;
  let h = d;
  for (let i = 1; i < 10_000; i++) {
    const an = -i * (i - a);
    b += 2;
    d = 1 / (an * d + b);
    c = b + an / c;
    h *= d * c;
    if (Math.abs(d * c - 1) < 1e-16) break;
  }
  return 1 - front * h;
}

/** I_x(a, b), the regularised incomplete beta function. */
export function betaI(x: number, a: number, b: number): number {
  if (x <= 0 || x >= 1) return x <= 0 ? 0 : 1;
  if (x > (a + 1) / (a + b + 2)) return 1 - betaI(1 - x, b, a);
  const front = Math.exp(logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log(1 - x));
  let c = 1;
  let d = 1 / (1 - ((a + b) * x) / (a + 1));
  let h = d;
  for (let m = 1; m < 10_000; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / (1 + even * d);
    c = 1 + even / c;
    h *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / (1 + odd * d);
    c = 1 + odd / c;
    h *= d * c;
    if (Math.abs(d * c - 1) < 1e-16) break;
  }
  return (front * h) / a;
}

/** Share of an F variable with m and n degrees of freedom below x. */
export function fCdf(x: number, m: number, n: number): number {
  return betaI((m * x) / (m * x + n), m / 2, n / 2);
}

/** Share of an inverse Gaussian variable below x. @see Folks & Chhikara (1978), J. R. Stat. Soc. B 40(3). */
export function inverseGaussianCdf(x: number, mean: number, shape: number): number {
  const root = Math.sqrt(shape / x);
  return normalCdf(root * (x / mean - 1)) + Math.exp((2 * shape) / mean) * normalCdf(-root * (x / mean + 1));
}
