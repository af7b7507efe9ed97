/** A stop still ahead of a crew; instants in milliseconds, null where nothing was promised. */
export interface StopAhead {
  travelMs: number;
  plannedStartMs: number;
  plannedEndMs: number;
  /** End of the window told to the client. */
  promisedToMs: number | null;
}

export interface LateVisit {
  /** Place in the list of stops. */
  index: number;
  expectedMs: number;
}

/**
 * Visits that will begin later than was promised, when the crew leaves its present stop at `freeMs`: it drives as
 * planned, begins no earlier than planned, and takes as long as planned.
 *
 * @param toleranceMs So much later than promised is not yet late.
 */
export function lateVisits(freeMs: number, stops: readonly StopAhead[], toleranceMs: number): LateVisit[] {
  const late: LateVisit[] = [];
  let at = freeMs;
  for (const [index, stop] of stops.entries()) {
    const begins = Math.max(at + stop.travelMs, stop.plannedStartMs);
    if (stop.promisedToMs !== null && begins > stop.promisedToMs + toleranceMs)
      late.push({ index, expectedMs: begins });
    at = begins + (stop.plannedEndMs - stop.plannedStartMs);
  }
  return late;
}
