/*
 * After a clean a wall may stay bare for a while before deposit takes hold. How long differs from clean to clean: the
 * lag is exponential, of a mean that the lines of a base share. What it costs a line is days of growth, so the same
 * lag holds a fast line back by more than a slow one; that tells it from a residue or a growth law with a slow start.
 */

/** After so many mean lags the chance that it still lasts is nil. */
const LAGS_REMEMBERED = 8;

/**
 * Days of growth lost in the mean during some days: L (e^(−age/L) − e^(−(age+days)/L)).
 * @param lagDays Mean lag L.
 * @param age     Days since the last clean at their beginning; Infinity where none is on record.
 */
export function daysLost(lagDays: number, age: number, days: number): number {
  if (!(age < LAGS_REMEMBERED * lagDays)) return 0;
  return lagDays * Math.exp(-age / lagDays) * -Math.expm1(-days / lagDays);
}

/**
 * Variance of the days so lost. Right after a clean that of the lesser of lag and days, L² (1 − 2u e^(−u) − e^(−2u)) with
 * u = days/L; later with the chance q that it lasts still, as q (2 − q) of it: exact when the days outlast the lag.
 */
export function lostVariance(lagDays: number, age: number, days: number): number {
  if (!(age < LAGS_REMEMBERED * lagDays)) return 0;
  const lasting = Math.exp(-age / lagDays);
  const u = days / lagDays;
  const ended = u > LAGS_REMEMBERED ? 1 : 1 - 2 * u * Math.exp(-u) - Math.exp(-2 * u);
  return lasting * (2 - lasting) * lagDays * lagDays * ended;
}
