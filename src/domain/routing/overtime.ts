import type { Model } from './model.js';

/** Money for staying until `endSeconds`. */
export function overtimeCostAt(model: Model, v: number, endSeconds: number): number {
  const over = endSeconds - model.shiftEnd[v]!;
  return over > 0 ? Math.round((over * model.overtimePerHour[v]!) / 3600) : 0;
}
