import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { CrewDay, SharedKitItem } from '../../domain/routing/problem.js';
import { type CallOut, restedAt } from '../../domain/work/onCall.js';
import type { Point } from '../../domain/work/travel.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { absencesOf, type Books, holds, secondsOf, shiftOf } from './books.js';
import { outUntilOf, type RouteProgress } from './dayProgress.js';

/** How long a plan may keep a crew after its shift, or after it would be back. */
export const overtimeSecondsOf = ({ routes }: Pick<Books, 'routes'>): number =>
  Math.round(routes.overtimeMinutes * 60);

/** Places by number; a site is one place, however many orders it has. */
export class Places {
  readonly points: Point[] = [];
  readonly sites: (string | null)[] = [];
  private readonly bySite = new Map<string, number>();

  add(latitude: number, longitude: number, siteId: string | null = null): number {
    const known = siteId === null ? undefined : this.bySite.get(siteId);
    if (known !== undefined) return known;
    const place = this.points.push({ latitude, longitude }) - 1;
    this.sites.push(siteId);
    if (siteId !== null) this.bySite.set(siteId, place);
    return place;
  }
}

export const crewDayId = (crewId: unknown, day: IsoDate): string => `${String(crewId)} ${day}`;

/** A crew's day as the search sees it; null: it does not work (any more) that day. */
export function crewDayOf(
  house: House,
  books: Books,
  crew: Row,
  day: IsoDate,
  index: number,
  depotAt: ReadonlyMap<unknown, number>,
  places: Places,
  progress: RouteProgress | undefined,
): CrewDay | null {
  const shift = shiftOf(books, crew['id'], day);
  if (!shift || (progress && progress.route['closed_at'] !== null)) return null;
  const absences = absencesOf(books, 'crew_id', crew['id'], day);
  const midnight = house.zone.instantOf(day, 0).getTime();
  const now = Math.round((house.clock.now().getTime() - midnight) / 1000);
  const backAt = absences
    .filter((row) => row['people'] === null)
    .map((row) =>
      row['back_at'] === null ? Infinity : Math.round((Date.parse(String(row['back_at'])) - midnight) / 1000),
    )
    .reduce((latest, each) => Math.max(latest, each), -Infinity);
  const start = secondsOf(String(shift['starts_at']));
  const end = secondsOf(String(shift['ends_at']));
  const rest = restBefore(house, books, crew, day, { start, end });
  const people = peopleOn(books, crew, day) - rest.resting.length;
  if (people <= 0) return null;

  const depot = depotAt.get(crew['depot_id']);
  const homeDepot = depotAt.get(crew['end_depot_id'] ?? crew['depot_id']) ?? depot;
  if (depot === undefined || homeDepot === undefined) return null;
  const { kit, tankLitres, wasteLitres } = tanksOf(books, crew, day);
  const position = progress?.position ?? null;
  const from = Math.max(position?.freeAtSeconds ?? start, backAt, now, rest.untilSeconds);
  // On the road past its shift it is there until it is back, and may stay as much longer as any plan may use.
  const overtime = overtimeSecondsOf(books);
  const out = progress ? outUntilOf(progress, now, end) : end;
  if (from >= (out > end ? out + overtime : end)) return null;
  const underWay = position !== null || now > start;
  const breakAt = shift['break_after'] === null ? null : secondsOf(String(shift['break_after']));
  const rests = breakAt !== null && Number(shift['break_minutes']) > 0 && progress?.restTaken !== true;
  return {
    id: crewDayId(crew['id'], day),
    crewId: String(crew['id']),
    crewName: String(crew['name']),
    day: index,
    startLocation: depot,
    endLocation: homeDepot,
    shiftStartSeconds: underWay ? start : from,
    shiftEndSeconds: end,
    overtimeSeconds: now > end ? out - end + overtime : overtime,
    overtimePerHour: overtimePerHourOf(books, crew),
    breaks: rests
      ? [
          {
            earliestStartSeconds: breakAt,
            latestStartSeconds: breakAt + Math.round(books.routes.breakLatitudeMinutes * 60),
            seconds: Number(shift['break_minutes']) * 60,
          },
        ]
      : [],
    kit,
    people,
    tankLitres,
    wasteLitres,
    useCost: 0,
    ...(underWay
      ? {
          underWay: {
            location: position ? places.add(position.at.latitude, position.at.longitude) : depot,
            freeAtSeconds: from,
            tankLitresLeft:
              tankLitres === null ? 0 : Math.max(0, tankLitres - Math.round(position?.waterLitresUsed ?? 0)),
            wasteLitresOnBoard: Math.min(wasteLitres ?? 0, Math.round(position?.wasteLitresOnBoard ?? 0)),
          },
        }
      : {}),
  };
}

/** An hour of a crew's overtime, minor units. */
export const overtimePerHourOf = ({ routes }: Pick<Books, 'routes'>, crew: Row): number =>
  Math.round(Number(crew['cost_per_hour_minor'] ?? routes.crewHourMinor) * routes.overtimeFactor);

/** Kinds of kit a crew carries on a day, and what its tanks hold; null: not counted. */
export function tanksOf(books: Books, crew: Row, day: IsoDate) {
  const carried = carriedKit(books, crew, day);
  const tanks = (column: string) => {
    const known = carried.flatMap((item) => (item[column] === null ? [] : [Number(item[column])]));
    return known.length === 0 ? null : Math.round(known.reduce((sum, litres) => sum + litres, 0));
  };
  return {
    kit: [...new Set(carried.map((item) => String(item['kind'])))].sort(),
    tankLitres: tanks('tank_l'),
    wasteLitres: tanks('waste_l'),
  };
}

/**
 * A crew one of whose people was called out before the shift starts when that person has rested; who has not by the
 * end of the shift is away that day.
 */
export function restBefore(
  house: House,
  books: Pick<Books, 'memberships' | 'callOuts' | 'restHours'>,
  crew: Row,
  day: IsoDate,
  shift: { start: number; end: number },
): { untilSeconds: number; resting: string[] } {
  const midnight = house.zone.instantOf(day, 0).getTime();
  const startAt = house.zone.instantOf(day, shift.start).getTime();
  const callOuts = books.callOuts.map(
    (row): CallOut => ({
      memberId: String(row['member_id']),
      calledAt: Date.parse(String(row['called_at'])),
      backAt: row['back_at'] === null ? null : Date.parse(String(row['back_at'])),
    }),
  );
  const result = { untilSeconds: shift.start, resting: [] as string[] };
  if (callOuts.length === 0) return result;
  for (const row of books.memberships) {
    if (row['crew_id'] !== crew['id'] || !holds(row, day)) continue;
    const memberId = String(row['member_id']);
    const at = restedAt(callOuts, memberId, startAt, house.clock.now().getTime(), books.restHours);
    const seconds = at === null ? shift.start : Math.round((at - midnight) / 1000);
    if (seconds >= shift.end) result.resting.push(memberId);
    else result.untilSeconds = Math.max(result.untilSeconds, seconds);
  }
  return result;
}

/** A crew's people less those who are away. */
export function peopleOn(books: Pick<Books, 'absences' | 'memberships'>, crew: Row, day: IsoDate): number {
  const away = absencesOf(books, 'crew_id', crew['id'], day).reduce(
    (sum, row) => sum + Number(row['people'] ?? 0),
    0,
  );
  const members = books.memberships.filter(
    (row) =>
      row['crew_id'] === crew['id'] &&
      holds(row, day) &&
      absencesOf(books, 'member_id', row['member_id'], day).length > 0,
  );
  return Number(crew['people']) - away - members.length;
}

/** What of its kit a crew has on a day; what is out of service stays behind. */
export function carriedKit(
  books: Pick<Books, 'absences' | 'crewKit' | 'kit'>,
  crew: Row,
  day: IsoDate,
): Row[] {
  const ids = new Set(
    books.crewKit
      .filter((row) => row['crew_id'] === crew['id'] && holds(row, day))
      .map((row) => row['kit_item_id']),
  );
  return books.kit.filter(
    (item) => ids.has(item['id']) && absencesOf(books, 'kit_item_id', item['id'], day).length === 0,
  );
}

/** Kit of no crew: any crew of its depot may fetch it, one a day; without a depot any crew at all. */
export function sharedKitOf(books: Books, days: readonly IsoDate[]): SharedKitItem[] {
  return books.kit.flatMap((item) => {
    const free = days.flatMap((day, index) => {
      const carried = books.crewKit.some((row) => row['kit_item_id'] === item['id'] && holds(row, day));
      const away = absencesOf(books, 'kit_item_id', item['id'], day).length > 0;
      return carried || away ? [] : [index];
    });
    if (free.length === 0) return [];
    const crews = books.crews
      .filter((crew) => crew['depot_id'] === item['depot_id'])
      .map((crew) => String(crew['id']));
    return {
      id: String(item['id']),
      kind: String(item['kind']),
      ...(item['depot_id'] === null ? {} : { crews }),
      ...(free.length === days.length ? {} : { days: free }),
    };
  });
}
