import type { OwnerSettings } from './settings.js';

/** What a visit is worth and what waiting costs, in minor units of money (common practice, no source, beyond the trend). */
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

/** A day past the wanted one costs this share of a visit a line: the client notices before the line plugs. */
const LATE_SHARE_A_DAY = 0.03;
/** What is overdue already grows dearer: one share more per month, up to so many months. */
const MOST_MONTHS_OVERDUE = 3;
/** A visit not wanted within the horizon may wait: it only fills a route that passes by. */
const EARLY_WORTH = 0.1;
/** A promise broken costs so many visits: somebody phones, and the client remembers. */
const PROMISE_WORTH = 3;

/** Cost of doing the visit in so many days instead of now. */
export function waitingCost(
  visit: WaitingVisit,
  inDays: number,
  { costs }: Pick<OwnerSettings, 'costs'>,
): number {
  const plugs = 1 - Math.exp((inDays / 365.25) * Math.log(1 - Math.min(0.999, visit.plugChanceYear)));
  const wanted = visit.wantedInDays ?? Number.POSITIVE_INFINITY;
  const late = Math.max(0, inDays - Math.max(0, wanted));
  const dearer = 1 + Math.min(MOST_MONTHS_OVERDUE, Math.max(0, -wanted) / 30);
  return Math.round(
    costs.visitMinor * (plugs * costs.plugVisits + late * LATE_SHARE_A_DAY * dearer * visit.lines),
  );
}

/** Cost of leaving the visit out of a plan whose last day is so far ahead: it waits a week more. */
export function leftOutCost(
  visit: WaitingVisit,
  horizonDays: number,
  settings: Pick<OwnerSettings, 'costs'>,
): number {
  const wanted = visit.wantedInDays !== null && visit.wantedInDays <= horizonDays;
  const visits = visit.lines * (wanted ? 1 : EARLY_WORTH) + (visit.promised ? PROMISE_WORTH : 0);
  return Math.round(settings.costs.visitMinor * visits) + waitingCost(visit, horizonDays + 7, settings);
}
