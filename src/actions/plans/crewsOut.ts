import type { House, Stores } from '../house.js';
import { type Books, secondsOf, shiftOf } from './books.js';
import { outUntilOf, routeProgress } from './dayProgress.js';

/** Crews still on the road after their shift of today, with when they are back, in seconds of the day. */
export async function crewsOut(
  house: House,
  stores: Stores,
  books: Pick<Books, 'shifts' | 'holidays'>,
): Promise<ReadonlyMap<string, number>> {
  const now = house.clock.now();
  const today = house.zone.dayOf(now);
  const seconds = (now.getTime() - house.zone.instantOf(today, 0).getTime()) / 1000;
  const out = new Map<string, number>();
  for (const route of await stores.plans.liveRoutes(today, today)) {
    const shift = shiftOf(books, route['crew_id'], today);
    if (!shift || route['closed_at'] !== null) continue;
    const depot = {
      latitude: Number(route['start_depot_latitude']),
      longitude: Number(route['start_depot_longitude']),
    };
    const end = secondsOf(String(shift['ends_at']));
    const until = outUntilOf(routeProgress(house, today, route, depot), seconds, end);
    if (until > end) out.set(String(route['crew_id']), until);
  }
  return out;
}
