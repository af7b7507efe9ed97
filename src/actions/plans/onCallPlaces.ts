import { driveAsTold, type ToldRoute } from '../../domain/routing/asTold.js';
import type { House } from '../house.js';
import { crewDayId } from './crewDays.js';
import { consequenceOf, type DayBook, placeRefusal } from './dayRoutes.js';
import type { OfferedPlace } from './offeredPlace.js';
import type { Said } from './planTools.js';

/**
 * Where crews on call could drive to the order, one place a crew: where the fewest seconds are lost to lateness, then
 * the soonest. Nobody gives way, and late is better than tomorrow.
 *
 * @returns `cannot`: why crews on call cannot.
 */
export function onCallPlaces(
  house: House,
  book: DayBook,
  workOrderId: string,
): { places: OfferedPlace[]; cannot: Said[] } {
  const places: OfferedPlace[] = [];
  const cannot: Said[] = [];
  for (const { crewId, day } of book.question.crewDayOf.values()) {
    const id = crewDayId(crewId, day);
    const ahead = (book.ahead.get(id) ?? []).filter((each) => each !== workOrderId);
    const options = [null, ...ahead].flatMap((after, i) => {
      const told = driveAsTold(book.problem, id, [...ahead.slice(0, i), workOrderId, ...ahead.slice(i)]);
      if (!('refused' in told)) return { after, told };
      if (i === 0) cannot.push(placeRefusal(book, crewId, day, told.refused));
      return [];
    });
    const [best] = options.sort(
      (a, b) =>
        lateness(a.told) - lateness(b.told) || startOf(a.told, workOrderId) - startOf(b.told, workOrderId),
    );
    if (!best) continue;
    const consequence = consequenceOf(house, book, crewId, day, best.told);
    places.push({
      crewId,
      crewName: consequence.crewName,
      day,
      onCall: true,
      afterWorkOrderId: best.after,
      startsAt: house.zone.instantOf(day, startOf(best.told, workOrderId)).toISOString(),
      extraCostMinor: costOf(book, consequence.after) - costOf(book, consequence.before),
      displaces: [],
      consequence,
    });
  }
  return { places, cannot };
}

const lateness = ({ late }: ToldRoute): number => late.reduce((sum, { lateSeconds }) => sum + lateSeconds, 0);

const startOf = ({ route }: ToldRoute, workOrderId: string): number =>
  route.stops.find((stop) => stop.kind === 'visit' && stop.orderId === workOrderId)?.startSeconds ?? 0;

interface Driven {
  driveSeconds: number;
  driveMetres: number;
  overtimeCostMinor: number;
}

function costOf({ problem: { costs } }: DayBook, driven: Driven | null): number {
  if (!driven) return 0;
  const { driveSeconds, driveMetres, overtimeCostMinor } = driven;
  return (
    Math.round((driveSeconds * costs.drivingPerHour) / 3600 + (driveMetres * costs.drivingPerKm) / 1000) +
    overtimeCostMinor
  );
}
