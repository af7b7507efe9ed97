import type { OwnerSettings, RouteSettings } from './settings.js';

/** What a visit is worth and what waiting costs, in minor units of money, as the owner weighs it (`costs`, `routes`). */
export interface WaitingVisit {
  /** Chance that one of its lines plugs within a year, from the trend. */
  plugChanceYear: number;
  /** Lines it works on: a house with four is worth four, or long visits would never find a place. */
  lines: number;
  /** Days until it is wanted; negative when overdue. Null: no date. */
  wantedInDays: number | null;
  /** A client was told this day. */
  promised: boolean;
}

/** Cost of doing the visit in so many days instead of now. */
export function waitingCost(
  visit: WaitingVisit,
  inDays: number,
  { costs, routes }: Pick<OwnerSettings, 'costs' | 'routes'>,
): number {
  const plugs = 1 - Math.exp((inDays / 365.25) * Math.log(1 - Math.min(0.999, visit.plugChanceYear)));
  const wanted = visit.wantedInDays ?? Number.POSITIVE_INFINITY;
  const late = Math.max(0, inDays - Math.max(0, wanted));
  const dearer = Math.min(routes.overdueFactor, 1 + Math.max(0, -wanted) / 30);
  return Math.round(
    costs.visitMinor * (plugs * costs.plugVisits + late * routes.lateShareADay * dearer * visit.lines),
  );
}

/** Cost of leaving the visit out of a plan whose last day is so far ahead: it waits a week more. */
export function leftOutCost(
  visit: WaitingVisit,
  horizonDays: number,
  settings: Pick<OwnerSettings, 'costs' | 'routes'>,
): number {
  const wanted = visit.wantedInDays !== null && visit.wantedInDays <= horizonDays;
  const { costs, routes } = settings;
  const visits =
    visit.lines * (wanted ? 1 : routes.notYetWantedShare) + (visit.promised ? routes.promiseVisits : 0);
  return Math.round(costs.visitMinor * visits) + waitingCost(visit, horizonDays + 7, settings);
}

/**
 * Whether a visit that would be left out is worth so many hours of a crew's overtime, as routes buy it.
 * @param leftOut `leftOutCost`, in minor units.
 */
export function isWorthOvertime(
  leftOut: number,
  hours: number,
  routes: Pick<RouteSettings, 'crewHourMinor' | 'overtimeFactor' | 'overtimeGain'>,
): boolean {
  return leftOut >= routes.overtimeGain * hours * routes.crewHourMinor * routes.overtimeFactor;
}

/** What is feared of a line, from its trend. */
export interface LineDanger {
  plugChanceYear: number;
  actionChance30Days: number;
}

/** Danger of one more day's waiting of a visit, in minor units: plugs and dearer cleans of its lines, no less than they are likely. */
export function dangerADay(lines: readonly LineDanger[], { costs }: Pick<OwnerSettings, 'costs'>): number {
  const visits = lines.reduce(
    (sum, { plugChanceYear, actionChance30Days }) =>
      sum + (costs.plugVisits * plugChanceYear) / 365.25 + (costs.pastActionVisits * actionChance30Days) / 30,
    0,
  );
  return costs.visitMinor * visits;
}

/** What a day sooner costs: of each line the share of its interval that is lost, in minor units. */
export function soonerADay(
  intervalsDays: readonly number[],
  { costs }: Pick<OwnerSettings, 'costs'>,
): number {
  return costs.visitMinor * intervalsDays.reduce((sum, days) => sum + 1 / Math.max(1, days), 0);
}
