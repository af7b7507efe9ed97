import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { tankWater } from '../../domain/jetting/waterSupply.js';
import { outUntil } from '../../domain/work/crewOut.js';
import { type CrewPosition, crewPosition, type StopDone } from '../../domain/work/crewPosition.js';
import type { Point } from '../../domain/work/travel.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';

/** How far a crew's route of today has come. */
export interface RouteProgress {
  route: Row;
  /** Stops begun or behind it, in sequence: they stay on the route whatever is planned. */
  kept: Row[];
  /** Null while it has not left. */
  position: CrewPosition | null;
  /** Its rest lies behind it. */
  restTaken: boolean;
  /** When it is back, in seconds of the day; null: its route says nothing. */
  returnsAtSeconds: number | null;
  /** Visits under way or still ahead. */
  visitsLeft: number;
}

/** Until when the crew is out on its route, in seconds of the day. */
export const outUntilOf = (
  { position, returnsAtSeconds, visitsLeft }: RouteProgress,
  now: number,
  shiftEnd: number,
): number => outUntil({ now, shiftEnd, returnsAt: returnsAtSeconds, hasLeft: position !== null, visitsLeft });

/**
 * Reads from the attempts of the day how far a live route has come. A stop that was passed over (a later one was
 * begun, this one never) is not kept: it is planned again.
 */
export function routeProgress(house: House, day: IsoDate, route: Row, depot: Point): RouteProgress {
  const midnight = house.zone.instantOf(day, 0).getTime();
  const secondsAt = (instant: unknown) => Math.round((Date.parse(String(instant)) - midnight) / 1000);
  const now = secondsAt(house.clock.now().toISOString());
  const stops = route['stops'] as Row[];
  // Who was called out in the evening goes on past midnight.
  const lastDay = route['on_call'] === true ? addDays(day, 1) : day;
  const begun = (stop: Row) => {
    if (stop['attempt_started_at'] === null) return false;
    const on = house.zone.dayOf(new Date(String(stop['attempt_started_at'])));
    return on >= day && on <= lastDay;
  };
  const last = stops.findLastIndex(begun);
  const kept = stops.slice(0, last + 1).filter((stop) => stop['kind'] !== 'visit' || begun(stop));
  const filled = kept.findLastIndex((stop) => stop['kind'] === 'refill' || stop['kind'] === 'disposal');
  const pointOf = (stop: Row): Point | null =>
    stop['latitude'] === null
      ? null
      : { latitude: Number(stop['latitude']), longitude: Number(stop['longitude']) };
  const done: StopDone[] = kept.flatMap((stop, at) => {
    if (stop['kind'] !== 'visit') return [];
    const startedSeconds = secondsAt(stop['attempt_started_at']);
    return {
      at: pointOf(stop),
      startedSeconds,
      endedSeconds: stop['attempt_ended_at'] === null ? null : secondsAt(stop['attempt_ended_at']),
      expectedEndSeconds: startedSeconds + Number(stop['minutes']) * 60,
      waterLitres:
        at > filled
          ? tankWater(Number(stop['water_l']), Number(stop['minutes']), stop['tap'], null).litres
          : 0,
      wasteLitres: at > filled ? Number(stop['sludge_l']) : 0,
    };
  });
  const next = stops.slice(last + 1).find((stop) => stop['kind'] === 'visit');
  const leaves = route['leaves_at'] === null ? now : secondsAt(route['leaves_at']);
  return {
    route,
    kept,
    position: crewPosition(
      now,
      depot,
      leaves,
      done,
      next ? { at: pointOf(next), travelSeconds: Number(next['travel_s']) } : null,
    ),
    returnsAtSeconds: route['returns_at'] === null ? null : secondsAt(route['returns_at']),
    visitsLeft: stops.filter(
      (stop) =>
        stop['live'] === true && (stop['order_state'] === 'placed' || stop['order_state'] === 'under_way'),
    ).length,
    restTaken: stops.some(
      (stop, at) => stop['kind'] === 'break' && (at <= last || secondsAt(stop['starts_at']) < now),
    ),
  };
}
