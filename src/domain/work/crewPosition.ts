import type { Point } from './travel.js';

/** A stop of a crew's day as far as it has come; seconds since the day's midnight. */
export interface StopDone {
  at: Point | null;
  startedSeconds: number;
  /** Null while the crew is at work there. */
  endedSeconds: number | null;
  /** When it should be done, for one at work. */
  expectedEndSeconds: number;
  waterLitres: number;
  wasteLitres: number;
}

export interface CrewPosition {
  at: Point;
  /** When the crew can leave this place for the next stop. */
  freeAtSeconds: number;
  waterLitresUsed: number;
  wasteLitresOnBoard: number;
}

/**
 * Where a crew is now and when it is free: at work at a stop, on the way to its next one (so far along the
 * straight line as its driving time says), or still at its depot.
 *
 * @param done  Stops begun, in the order they were.
 * @param leaveSeconds  When it leaves its depot, as planned.
 * @param next  The next stop as planned; null: none is left, it stands where it was last.
 * @returns Null while it has not left: it can be planned as if the day had not begun.
 */
export function crewPosition(
  nowSeconds: number,
  depot: Point,
  leaveSeconds: number,
  done: readonly StopDone[],
  next: { at: Point | null; travelSeconds: number } | null,
): CrewPosition | null {
  const waterLitresUsed = done.reduce((sum, stop) => sum + stop.waterLitres, 0);
  const wasteLitresOnBoard = done.reduce((sum, stop) => sum + stop.wasteLitres, 0);
  const tanks = { waterLitresUsed, wasteLitresOnBoard };
  const last = done.at(-1);
  const place = done.findLast((stop) => stop.at !== null)?.at ?? depot;
  if (!last) {
    if (nowSeconds <= leaveSeconds) return null;
    return { at: along(depot, next, nowSeconds - leaveSeconds), freeAtSeconds: nowSeconds, ...tanks };
  }
  if (last.endedSeconds === null)
    return { at: place, freeAtSeconds: Math.max(nowSeconds, last.expectedEndSeconds), ...tanks };
  const since = Math.max(0, nowSeconds - last.endedSeconds);
  return { at: along(place, next, since), freeAtSeconds: Math.max(nowSeconds, last.endedSeconds), ...tanks };
}

function along(
  from: Point,
  next: { at: Point | null; travelSeconds: number } | null,
  seconds: number,
): Point {
  if (!next?.at) return from;
  const share = next.travelSeconds <= 0 ? 1 : Math.min(1, seconds / next.travelSeconds);
  return {
    latitude: from.latitude + share * (next.at.latitude - from.latitude),
    longitude: from.longitude + share * (next.at.longitude - from.longitude),
  };
}
