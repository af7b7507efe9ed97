import { createHash } from 'node:crypto';
import { v7 as newId } from 'uuid';
import { addDays, dayNumber, daysBetween, type IsoDate, weekdayOf } from '../../domain/calendar/isoDate.js';
import type { Budget } from '../../domain/routing/budget.js';
import type { Plan } from '../../domain/routing/plan.js';
import type { CrewDay, Order, OrderWindow, RoutingProblem } from '../../domain/routing/problem.js';
import { solve } from '../../domain/routing/solve.js';
import type { TaskKind } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { greatCircleTravel, type Point } from '../../domain/work/travel.js';
import { leftOutCost, waitingCost } from '../../domain/work/waitingCost.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';

export interface PlanAsk {
  fromDay: IsoDate;
  workingDays: number;
  seed: number;
  searchSeconds: number;
  because: string;
  askedBy: string;
  budget: Budget;
  onProgress?: (share: number) => void;
}

const DAY_SECONDS = 86_400;
/** What an hour of a crew costs where its own cost is unknown, and a kilometre, minor units (common practice, no source). */
const CREW_HOUR_MINOR = 9_000;
const KM_MINOR = 60;
const OVERTIME_SECONDS = 3_600;
const OVERTIME_FACTOR = 1.5;
/** Moving a stop people already rely on costs this share of a visit (common practice, no source). */
const MOVE_DAY_SHARE = 0.15;
const MOVE_CREW_SHARE = 0.05;

interface Built {
  problem: RoutingProblem;
  days: IsoDate[];
  crewDayOf: Map<string, { crewId: string; day: IsoDate }>;
  /** Orders that could not go into the search, with the reason. */
  outside: { workOrderId: string; code: string; facts: object; text: string }[];
}

/**
 * Searches routes for the coming working days and makes them live, in one transaction.
 * Nothing changes when the question is the one the live plan answered.
 */
export async function routeDays(
  house: House,
  stores: Stores,
  settings: OwnerSettings,
  ask: PlanAsk,
): Promise<Record<string, number>> {
  const built = await buildProblem(stores, settings, ask);
  const { problem, days } = built;
  const [fromDay, toDay] = [days[0] ?? ask.fromDay, days.at(-1) ?? ask.fromDay];
  const inputHash = hashOf(problem, days, ask.seed);
  const [live] = await stores.rows.page('plan', {
    where: [{ column: 'state', is: '=', value: 'accepted' }],
    sort: { column: 'created_at', descending: true },
    limit: 1,
  });
  if (live && live['input_hash'] === inputHash)
    return {
      keptPlan: 1,
      stops: Number((live['summary'] as Row)['stops']),
      unplaced: (live['unplaced'] as unknown[]).length,
    };

  const plan = solve(problem, {
    seed: ask.seed,
    stop: ask.budget,
    onProgress: ({ share }) => ask.onProgress?.(share),
  });
  for (const day of days) await stores.night.acquireDay(day);
  const planId = newId();
  const unplaced = [
    ...built.outside,
    ...plan.unplaced.map(({ orderId, code, facts, text, cheapestPlace }) => ({
      workOrderId: orderId,
      code,
      facts,
      text,
      cheapestPlace,
    })),
  ];
  const stops = plan.routes.reduce(
    (sum, route) => sum + route.stops.filter(({ kind }) => kind === 'visit').length,
    0,
  );
  const now = house.clock.now().toISOString();
  await stores.rows.insert('plan', {
    id: planId,
    state: 'accepted',
    from_day: fromDay,
    to_day: toDay,
    because: ask.because,
    asked_by: ask.askedBy,
    seed: ask.seed,
    search_seconds: ask.searchSeconds,
    progress: 1,
    input_hash: inputHash,
    engine_version: 'route-1',
    iterations: plan.iterations,
    cost_minor: plan.cost.total,
    summary: { stops, routes: plan.routes.length, cost: plan.cost },
    unplaced: JSON.stringify(unplaced),
    proposed_at: now,
    accepted_at: now,
    accepted_by: ask.askedBy,
  });
  await storeRoutes(house, stores, planId, plan, built);
  await stores.night.replaceLiveRoutes(fromDay, toDay, planId);
  return {
    keptPlan: 0,
    routes: plan.routes.length,
    stops,
    unplaced: unplaced.length,
    iterations: plan.iterations,
  };
}

async function buildProblem(stores: Stores, settings: OwnerSettings, ask: PlanAsk): Promise<Built> {
  const byId = async (table: string, where: Parameters<Stores['rows']['all']>[1] = []) =>
    stores.rows.all(table, where);
  const [crews, shifts, absences, depots, kit, crewKit, seasons, orders] = [
    await byId('crew', [{ column: 'archived_on', is: 'null' }]),
    await byId('shift'),
    await byId('absence'),
    await byId('depot'),
    await byId('kit_item', [{ column: 'archived_on', is: 'null' }]),
    await byId('crew_kit'),
    await byId('closed_season'),
    await stores.night.openOrders(),
  ];
  const holds = (row: Row, day: IsoDate) =>
    String(row['from_day']) <= day && (row['to_day'] === null || String(row['to_day']) > day);
  const away = (column: string, id: unknown, day: IsoDate) =>
    absences.some(
      (row) => row[column] === id && String(row['from_day']) <= day && String(row['to_day']) >= day,
    );

  const points: Point[] = depots.map((depot) => ({
    latitude: Number(depot['latitude']),
    longitude: Number(depot['longitude']),
  }));
  const depotAt = new Map(depots.map((depot, i) => [depot['id'], i]));
  const days: IsoDate[] = [];
  const crewDays: CrewDay[] = [];
  const crewDayOf: Built['crewDayOf'] = new Map();
  for (let ahead = 0; days.length < ask.workingDays && ahead < 21; ahead++) {
    const day = addDays(ask.fromDay, ahead);
    const working = crews
      .filter((crew) => !away('crew_id', crew['id'], day))
      .flatMap((crew) => {
        const shift = shifts.find(
          (each) => each['crew_id'] === crew['id'] && each['weekday'] === weekdayOf(day) && holds(each, day),
        );
        return shift ? [{ crew, shift }] : [];
      });
    if (working.length === 0) continue;
    const index = days.push(day) - 1;
    for (const { crew, shift } of working) {
      const own = crewKit
        .filter((each) => each['crew_id'] === crew['id'] && holds(each, day))
        .map((each) => kit.find((item) => item['id'] === each['kit_item_id']));
      const carried = own.filter(
        (item): item is Row => item !== undefined && !away('kit_item_id', item['id'], day),
      );
      const id = `${String(crew['id'])} ${day}`;
      const hour = Number(crew['cost_per_hour_minor'] ?? CREW_HOUR_MINOR);
      crewDayOf.set(id, { crewId: String(crew['id']), day });
      const breakAt = shift['break_after'] === null ? null : seconds(String(shift['break_after']));
      crewDays.push({
        id,
        crewId: String(crew['id']),
        crewName: String(crew['name']),
        day: index,
        startLocation: depotAt.get(crew['depot_id']) ?? 0,
        endLocation: depotAt.get(crew['end_depot_id'] ?? crew['depot_id']) ?? 0,
        shiftStartSeconds: seconds(String(shift['starts_at'])),
        shiftEndSeconds: seconds(String(shift['ends_at'])),
        overtimeSeconds: OVERTIME_SECONDS,
        overtimePerHour: Math.round(hour * OVERTIME_FACTOR),
        breaks:
          breakAt === null || Number(shift['break_minutes']) === 0
            ? []
            : [
                {
                  earliestStartSeconds: breakAt,
                  latestStartSeconds: breakAt + 5_400,
                  seconds: Number(shift['break_minutes']) * 60,
                },
              ],
        kit: [...new Set(carried.map((item) => String(item['kind'])))].sort(),
        people: Number(crew['people']),
        tankLitres: null,
        wasteLitres: null,
        useCost: 0,
      });
    }
  }
  const ownedKit = new Set(
    crewKit.filter((each) => each['to_day'] === null).map((each) => each['kit_item_id']),
  );
  const sharedKit = kit
    .filter((item) => !ownedKit.has(item['id']))
    .map((item) => ({ id: String(item['id']), kind: String(item['kind']) }));

  const outside: Built['outside'] = [];
  const problemOrders: Order[] = [];
  const horizon = days.length > 0 ? daysBetween(ask.fromDay, days.at(-1) ?? ask.fromDay) : 0;
  for (const row of orders) {
    const workOrderId = String(row['id']);
    if (Number(row['waits_for']) > 0) {
      outside.push({
        workOrderId,
        code: 'waits_for_precondition',
        facts: { open: row['waits_for'] },
        text: `waits: ${String(row['waits_for'])} precondition${row['waits_for'] === 1 ? '' : 's'} open`,
      });
      continue;
    }
    if (row['latitude'] === null) {
      outside.push({
        workOrderId,
        code: 'no_coordinates',
        facts: {},
        text: 'the site has no coordinates: give its latitude and longitude',
      });
      continue;
    }
    const closed = closedDays(seasons, (row['tasks'] as TaskKind[] | null) ?? [], days);
    const windows = windowsOf(row, days, closed);
    if (windows === null) {
      outside.push({
        workOrderId,
        code: 'no_open_day',
        facts: { days },
        text: 'none of the coming working days is open to it (not before, closed season or hours)',
      });
      continue;
    }
    const location =
      points.push({ latitude: Number(row['latitude']), longitude: Number(row['longitude']) }) - 1;
    const visit = {
      plugChanceYear: Number(row['plug_chance_year']),
      wantedInDays: row['wanted_by'] === null ? null : daysBetween(ask.fromDay, String(row['wanted_by'])),
    };
    const live = row['live_stop'] as { crewId: string; day: IsoDate; locked: boolean } | null;
    const liveDay = live ? days.indexOf(live.day) : -1;
    const promise = row['promise'] as { day: IsoDate; from: string | null; to: string | null } | null;
    const promised = promise ? days.indexOf(promise.day) : -1;
    problemOrders.push({
      id: workOrderId,
      location,
      serviceSeconds: Number(row['minutes']) * 60,
      windows,
      needs: row['kit'] as string[],
      people: Number(row['people']),
      waterLitres: 0,
      wasteLitres: 0,
      waitingCost: days.map((day) => waitingCost(visit, daysBetween(ask.fromDay, day), settings)),
      unplacedCost: leftOutCost(visit, horizon, settings),
      follows: [],
      ...(promise && promised >= 0
        ? {
            lock: {
              day: promised,
              ...(promise.from === null ? {} : { fromSeconds: seconds(promise.from) }),
              ...(promise.to === null ? {} : { toSeconds: seconds(promise.to) }),
            },
          }
        : live?.locked && liveDay >= 0
          ? { lock: { day: liveDay, crewId: live.crewId } }
          : {}),
      ...(live && liveDay >= 0
        ? {
            accepted: {
              day: liveDay,
              crewId: live.crewId,
              otherDayCost: Math.round(settings.costs.visitMinor * MOVE_DAY_SHARE),
              otherCrewCost: Math.round(settings.costs.visitMinor * MOVE_CREW_SHARE),
            },
          }
        : {}),
    });
  }
  const problem: RoutingProblem = {
    days: days.map((day) => `${weekdayOf(day)} ${day}`),
    travel: greatCircleTravel(points),
    crewDays,
    orders: problemOrders,
    sharedKit,
    refillSites: [],
    costs: { drivingPerHour: CREW_HOUR_MINOR, drivingPerKm: KM_MINOR },
  };
  return { problem, days, crewDayOf, outside };
}

function seconds(time: string): number {
  const [hours = 0, minutes = 0] = time.split(':').map(Number);
  return hours * 3600 + minutes * 60;
}

function closedDays(
  seasons: readonly Row[],
  tasks: readonly TaskKind[],
  days: readonly IsoDate[],
): Set<IsoDate> {
  return new Set(
    days.filter((day) =>
      seasons.some(
        (row) =>
          row['depot_id'] === null &&
          String(row['from_day']) <= day &&
          String(row['to_day']) >= day &&
          tasks.some((task) => (row['tasks'] as string[]).includes(task)),
      ),
    ),
  );
}

/** Windows per open day; empty: any time of any day; null: no day at all. */
function windowsOf(row: Row, days: readonly IsoDate[], closed: ReadonlySet<IsoDate>): OrderWindow[] | null {
  const hours = row['hours'] as { weekday: string; from: string; to: string }[];
  const windows: OrderWindow[] = [];
  let free = true;
  days.forEach((day, index) => {
    const early = row['not_before'] !== null && day < String(row['not_before']);
    const own = hours.filter(({ weekday }) => weekday === weekdayOf(day));
    if (early || closed.has(day) || (hours.length > 0 && own.length === 0)) {
      free = false;
      return;
    }
    if (own.length === 0) {
      windows.push({ day: index, fromSeconds: 0, toSeconds: DAY_SECONDS - 1 });
    } else {
      free = false;
      for (const { from, to } of own)
        windows.push({ day: index, fromSeconds: seconds(from), toSeconds: seconds(to) });
    }
  });
  if (windows.length === 0) return null;
  return free ? [] : windows;
}

function hashOf(problem: RoutingProblem, days: readonly IsoDate[], seed: number): string {
  const hash = createHash('sha256');
  // What the plan itself made live must not count as a change of its question.
  hash.update(
    JSON.stringify([
      days,
      seed,
      problem.crewDays,
      problem.orders.map(({ accepted: _accepted, ...order }) => order),
      problem.sharedKit,
      problem.costs,
    ]),
  );
  hash.update(Buffer.from(problem.travel.metres.buffer));
  return hash.digest('base64url');
}

async function storeRoutes(
  house: House,
  stores: Stores,
  planId: string,
  plan: Plan,
  { crewDayOf }: Built,
): Promise<void> {
  const routes: Row[] = [];
  const stops: Row[] = [];
  for (const route of plan.routes) {
    const place = crewDayOf.get(route.crewDayId);
    if (!place) throw new RangeError(`the plan names an unknown crew-day: ${route.crewDayId}`);
    const routeId = newId();
    const at = (s: number) => house.zone.instantOf(place.day, s).toISOString();
    routes.push({
      id: routeId,
      plan_id: planId,
      crew_id: place.crewId,
      day: place.day,
      state: 'proposed',
      leaves_at: at(route.leaveSeconds),
      returns_at: at(route.endSeconds),
      drive_s: route.travelSeconds,
      drive_m: route.travelMetres,
      work_s: route.stops.reduce(
        (sum, stop) => sum + (stop.kind === 'visit' ? stop.endSeconds - stop.startSeconds : 0),
        0,
      ),
      wait_s: route.stops.reduce((sum, stop) => sum + stop.waitSeconds, 0),
      version: 1,
      created_at: 'now',
      updated_at: 'now',
    });
    route.stops.forEach((stop, position) => {
      stops.push({
        id: newId(),
        route_id: routeId,
        work_order_id: stop.kind === 'visit' ? stop.orderId : null,
        position: position + 1,
        kind: stop.kind,
        live: false,
        locked: false,
        travel_s: stop.travelSeconds,
        travel_m: stop.travelMetres,
        arrives_at: at(stop.arrivalSeconds),
        starts_at: at(stop.startSeconds),
        ends_at: at(stop.endSeconds),
        version: 1,
        created_at: 'now',
        updated_at: 'now',
      });
    });
  }
  await stores.rows.insertMany('route', routes);
  await stores.rows.insertMany('stop', stops);
}

/** The first day the night plans: today while crews have not left, else tomorrow. */
export function firstPlannedDay(house: House): IsoDate {
  const now = house.clock.now();
  const today = house.zone.dayOf(now);
  const sinceMidnight = (now.getTime() - house.zone.instantOf(today, 0).getTime()) / 1000;
  return sinceMidnight < 6 * 3600 ? today : addDays(today, 1);
}

export const seedOf = (day: IsoDate): number => dayNumber(day);
