import type { OwnerSettings } from './settings.js';

/** What a visit is worth and what waiting costs, in minor units of money (common practice, no source, beyond the trend). */
export interface WaitingVisit {
  /** Chance that one of its lines plugs within a year, from the trend. */
  plugChanceYear: number;
  /** Days until it is wanted; negative when overdue. Null: no date. */
  wantedInDays: number | null;
}

/** A day past the wanted one costs this share of a visit: the client notices before the line plugs. */
const LATE_SHARE_A_DAY = 0.03;
/** A visit not wanted within the horizon may wait: it only fills a route that passes by. */
const EARLY_WORTH = 0.1;

/** Cost of doing the visit in so many days instead of now. */
export function waitingCost(
  visit: WaitingVisit,
  inDays: number,
  { costs }: Pick<OwnerSettings, 'costs'>,
): number {
  const plugs = 1 - Math.exp((inDays / 365.25) * Math.log(1 - Math.min(0.999, visit.plugChanceYear)));
  const late = visit.wantedInDays === null ? 0 : Math.max(0, inDays - Math.max(0, visit.wantedInDays));
  return Math.round(costs.visitMinor * (plugs * costs.plugVisits + late * LATE_SHARE_A_DAY));
}

/** Cost of leaving the visit out of a plan whose last day is so far ahead: it waits a week more. */
export function leftOutCost(
  visit: WaitingVisit,
  horizonDays: number,
  settings: Pick<OwnerSettings, 'costs'>,
): number {
  const wanted = visit.wantedInDays !== null && visit.wantedInDays <= horizonDays;
  const worth = settings.costs.visitMinor * (wanted ? 1 : EARLY_WORTH);
  return Math.round(worth) + waitingCost(visit, horizonDays + 7, settings);
}
