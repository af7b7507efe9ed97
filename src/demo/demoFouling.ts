import type { LineKind, Material } from '../domain/words.js';
import type { Chance } from './demoChance.js';
import type { DemoLine } from './demoLines.js';

/** How the simulated lines foul. Common practice, no source: half full in about a year and a half at 1.5 mg/L. */
const MEDIAN_PER_DAY = 0.0008;
const BY_IRON = 0.4;
const BY_KIND: Record<LineKind, number> = {
  sump_discharge: 0.1,
  footing_drain: 0.15,
  floor_drain: -0.35,
  yard_drain: -0.25,
};
const BY_MATERIAL: Record<Material, number> = {
  pvc: -0.2,
  corrugated_hdpe: 0.3,
  clay: 0.15,
  concrete: 0.1,
  cast_iron: 0.05,
  other: 0,
  unknown: 0,
};
const SITE_SPREAD = 0.3;
const LINE_SPREAD = 0.35;
/** Scale of the gamma process, share of the bore: deposit comes in lumps of about this size. */
const LUMP = 0.008;
const SEASON_SWING = 0.4;
/** Day of the year that fouls most: snow melt, mid April. */
const SEASON_PEAK_DAY = 105;
const YEAR_DAYS = 365.25;
/** 1970-01-01 was the first day of a year, so day numbers keep the phase. */
const ANGULAR = (2 * Math.PI) / YEAR_DAYS;

/** What one site adds to the log rate of all its lines. */
export const siteEffect = (chance: Chance): number => SITE_SPREAD * chance.normal();

/** True rate of a line, share of the bore a day. */
export function trueRate(line: DemoLine, ironMgL: number, site: number, chance: Chance): number {
  const log =
    BY_IRON * Math.log(ironMgL / 1.5) +
    BY_KIND[line.row.kind] +
    BY_MATERIAL[line.material] -
    0.2 * Math.log(line.boreMm / 100) +
    site +
    LINE_SPREAD * chance.normal();
  return MEDIAN_PER_DAY * Math.exp(log);
}

/** Growth between two days, by a gamma process whose clock runs faster in the wet season. */
export function grown(perDay: number, fromDay: number, toDay: number, chance: Chance): number {
  const days = seasonDays(fromDay, toDay);
  return days <= 0 ? 0 : LUMP * chance.gamma((perDay * days) / LUMP);
}

/** Days of average growth between two days; over whole years the days themselves. */
export function seasonDays(fromDay: number, toDay: number): number {
  const swing = (day: number): number => Math.sin(ANGULAR * (day - SEASON_PEAK_DAY));
  return toDay - fromDay + (SEASON_SWING / ANGULAR) * (swing(toDay) - swing(fromDay));
}
