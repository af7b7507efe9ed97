import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { RouteChange } from '../../domain/work/routeChanges.js';
import type { House, Stores } from '../house.js';
import { absencesOf, type Books, shiftOf } from '../plans/books.js';
import { carriedKit } from '../plans/crewDays.js';
import type { Row } from '../ports.js';
import { openShiftBooks, type ShiftBooks, workedShift } from './crewShifts.js';
import { type HinderedVisit, hinderedVisits } from './hinderedVisits.js';
import { changesSince } from './publishing.js';

/** A route of a day in figures. */
export interface RouteFigures {
  id: string;
  planId: string;
  state: 'not_published' | 'published' | 'changed' | 'closed';
  publishedAt: string | null;
  publishedBy: string | null;
  closedAt: string | null;
  closedBy: string | null;
  leavesAt: string | null;
  returnsAt: string | null;
  visits: number;
  done: number;
  underWay: number;
  ahead: number;
  /** Begun and not done: nobody drives there again on this route. */
  tried: number;
  next: { workOrderId: string; number: number; startsAt: string } | null;
  driveSeconds: number;
  driveMetres: number;
  workSeconds: number;
  waitSeconds: number;
  overtimeSeconds: number;
  /** Behind its next stop by so many seconds; null: on time, or not today. */
  lateSeconds: number | null;
  changesSincePublished: RouteChange[];
  notDone: unknown[];
}

export interface CrewDayBook {
  crewId: string;
  crewName: string;
  works: boolean;
  /** Local times of its shift; null: none that day. */
  shift: { from: string; to: string } | null;
  people: number;
  peopleUsually: number;
  /** Starts later because somebody of it was called out. */
  restsUntil: string | null;
  absences: {
    id: string;
    of: 'crew' | 'member';
    name: string;
    people: number | null;
    reason: string;
    backAt: string | null;
  }[];
  kit: { id: string; name: string; kind: string }[];
  kitOut: { id: string; name: string; kind: string; reason: string }[];
  route: RouteFigures | null;
  /** What it drives that day out of its shift, on call: more than one where the day was closed in between. */
  onCallRoutes: RouteFigures[];
}

export interface DayBookView {
  day: IsoDate;
  crews: CrewDayBook[];
  totals: {
    visits: number;
    done: number;
    driveSeconds: number;
    workSeconds: number;
    overtimeSeconds: number;
    crews: number;
  };
  closedSeasons: {
    id: string;
    reason: string;
    tasks: string[];
    outsideOnly: boolean;
    depotId: string | null;
  }[];
  /** Kit of no crew that is out of service. */
  sharedKitOut: { id: string; name: string; kind: string; reason: string }[];
  /** Still ahead, and no longer possible where they stand. */
  hinderedVisits: HinderedVisit[];
}

type KitBooks = Pick<Books, 'kit' | 'crewKit' | 'absences'>;

/** What each crew has before it, day by day: routes with totals, who and what is away, who is short. */
export async function dayBooks(
  house: House,
  stores: Stores,
  fromDay: IsoDate,
  toDay: IsoDate,
  crewId: string | null,
): Promise<DayBookView[]> {
  const today = house.zone.dayOf(house.clock.now());
  const books = await openShiftBooks(stores, [today, fromDay].sort()[0] ?? today);
  const kit: KitBooks = {
    absences: books.absences,
    kit: await stores.rows.all('kit_item', [{ column: 'archived_on', is: 'null' }], 'name'),
    crewKit: await stores.rows.all('crew_kit', []),
  };
  const members = await stores.rows.all('member', []);
  const seasons = await stores.rows.all('closed_season', [
    { column: 'from_day', is: '<=', value: toDay },
    { column: 'to_day', is: '>=', value: fromDay },
    { column: 'withdrawn_at', is: 'null' },
  ]);
  const routes = await stores.desk.routes(fromDay, toDay);
  const hindered = (await hinderedVisits(house, stores, fromDay, toDay)).filter(
    (visit) => crewId === null || visit.crewId === crewId,
  );
  const days: DayBookView[] = [];
  for (let day = fromDay; day <= toDay; day = addDays(day, 1)) {
    const crews = books.crews
      .filter((crew) => crewId === null || crew['id'] === crewId)
      .map((crew) => {
        const own = routes.filter((row) => row['crew_id'] === crew['id'] && row['day'] === day);
        return crewDay(house, { books, kit, members }, crew, day, own);
      });
    days.push({
      day,
      crews,
      totals: totalsOf(crews),
      closedSeasons: seasons
        .filter((row) => String(row['from_day']) <= day && String(row['to_day']) >= day)
        .map((row) => ({
          id: String(row['id']),
          reason: String(row['reason']),
          tasks: row['tasks'] as string[],
          outsideOnly: row['outside_only'] === true,
          depotId: row['depot_id'] === null ? null : String(row['depot_id']),
        })),
      sharedKitOut: kit.kit
        .filter((item) => !kit.crewKit.some((row) => row['kit_item_id'] === item['id'] && holdsOn(row, day)))
        .flatMap((item) => outOf(kit, item, day)),
      hinderedVisits: hindered.filter((visit) => visit.day === day),
    });
  }
  return days;
}

const holdsOn = (row: Row, day: IsoDate): boolean =>
  String(row['from_day']) <= day && (row['to_day'] === null || String(row['to_day']) > day);

const kitName = (item: Row) => ({
  id: String(item['id']),
  name: String(item['name']),
  kind: String(item['kind']),
});

const outOf = (kit: KitBooks, item: Row, day: IsoDate) =>
  absencesOf(kit, 'kit_item_id', item['id'], day)
    .slice(0, 1)
    .map((absence) => ({ ...kitName(item), reason: String(absence['reason']) }));

function crewDay(
  house: House,
  { books, kit, members }: { books: ShiftBooks; kit: KitBooks; members: readonly Row[] },
  crew: Row,
  day: IsoDate,
  routes: readonly Row[],
): CrewDayBook {
  const shift = shiftOf(books, crew['id'], day);
  const worked = workedShift(house, books, crew, day);
  const own = new Set(
    books.memberships
      .filter((row) => row['crew_id'] === crew['id'] && holdsOn(row, day))
      .map((row) => row['member_id']),
  );
  const nameOf = (memberId: unknown) => String(members.find((row) => row['id'] === memberId)?.['name'] ?? '');
  const absences = books.absences
    .filter((row) => String(row['from_day']) <= day && String(row['to_day']) >= day)
    .filter((row) => row['crew_id'] === crew['id'] || own.has(row['member_id']))
    .map((row) => ({
      id: String(row['id']),
      of: row['crew_id'] === null ? ('member' as const) : ('crew' as const),
      name: row['crew_id'] === null ? nameOf(row['member_id']) : String(crew['name']),
      people: row['people'] === null ? null : Number(row['people']),
      reason: String(row['reason']),
      backAt: row['back_at'] === null ? null : String(row['back_at']),
    }));
  const carried = carriedKit(kit, crew, day);
  const ownKit = new Set(
    kit.crewKit
      .filter((row) => row['crew_id'] === crew['id'] && holdsOn(row, day))
      .map((row) => row['kit_item_id']),
  );
  return {
    crewId: String(crew['id']),
    crewName: String(crew['name']),
    works: worked !== null,
    shift: shift ? { from: String(shift['starts_at']), to: String(shift['ends_at']) } : null,
    people: worked?.people ?? 0,
    peopleUsually: Number(crew['people']),
    restsUntil: worked?.restsUntil ? new Date(worked.restsUntil).toISOString() : null,
    absences,
    kit: carried.map(kitName),
    kitOut: kit.kit.filter((item) => ownKit.has(item['id'])).flatMap((item) => outOf(kit, item, day)),
    route: routes.filter((row) => row['on_call'] !== true).map((row) => figuresOf(house, row))[0] ?? null,
    onCallRoutes: routes.filter((row) => row['on_call'] === true).map((row) => figuresOf(house, row)),
  };
}

/** A stop that should have begun this long ago makes the crew late. Common practice, no source. */
const LATE_AFTER_SECONDS = 15 * 60;

function figuresOf(house: House, row: Row): RouteFigures {
  const text = (value: unknown) => (value === null || value === undefined ? null : String(value));
  const isClosed = row['closed_at'] !== null;
  const isTold = row['publication_id'] !== null;
  const changes = isTold && !isClosed ? changesSince({ stops: row['told_stops'], now: row['now'] }) : [];
  const next = row['next'] as RouteFigures['next'];
  const late =
    next && !isClosed && Number(row['under_way']) === 0
      ? Math.round((house.clock.now().getTime() - Date.parse(next.startsAt)) / 1000)
      : 0;
  return {
    id: String(row['id']),
    planId: String(row['plan_id']),
    state: isClosed ? 'closed' : !isTold ? 'not_published' : changes.length > 0 ? 'changed' : 'published',
    publishedAt: text(row['told_at']),
    publishedBy: text(row['told_by']),
    closedAt: text(row['closed_at']),
    closedBy: text(row['closed_by']),
    leavesAt: text(row['leaves_at']),
    returnsAt: text(row['returns_at']),
    visits: Number(row['visits']),
    done: Number(row['done']),
    underWay: Number(row['under_way']),
    ahead: Number(row['ahead']),
    tried: Number(row['tried']),
    next: next && { ...next, startsAt: new Date(next.startsAt).toISOString() },
    driveSeconds: Number(row['drive_s']),
    driveMetres: Number(row['drive_m']),
    workSeconds: Number(row['work_s']),
    waitSeconds: Number(row['wait_s']),
    overtimeSeconds: Number(row['overtime_s']),
    lateSeconds: late >= LATE_AFTER_SECONDS ? late : null,
    changesSincePublished: changes,
    notDone: row['not_done'] as unknown[],
  };
}

function totalsOf(crews: readonly CrewDayBook[]): DayBookView['totals'] {
  const sum = (of: (route: RouteFigures) => number) =>
    crews
      .flatMap(({ route, onCallRoutes }) => (route ? [route, ...onCallRoutes] : onCallRoutes))
      .reduce((total, route) => total + of(route), 0);
  return {
    visits: sum(({ visits }) => visits),
    done: sum(({ done }) => done),
    driveSeconds: sum(({ driveSeconds }) => driveSeconds),
    workSeconds: sum(({ workSeconds }) => workSeconds),
    overtimeSeconds: sum(({ overtimeSeconds }) => overtimeSeconds),
    crews: crews.filter(({ works }) => works).length,
  };
}
