import type { Model } from './model.js';

/** What so many seconds past the shift cost, minor units. */
export const overtimePrice = (seconds: number, perHour: number): number =>
  Math.round((Math.max(0, seconds) * perHour) / 3600);

/** Money for staying until `endSeconds`. */
export function overtimeCostAt(model: Model, v: number, endSeconds: number): number {
  const over = endSeconds - model.shiftEnd[v]!;
  return over > 0 ? overtimePrice(over, model.overtimePerHour[v]!) : 0;
}
