import { type PlanChange, planChanges, type Standing } from '../../domain/work/planChanges.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import type { Basis } from './basis.js';
import type { ChangeSaid } from './changesSaid.js';
import { displacedOrders } from './displaced.js';
import type { Said } from './planTools.js';
import { changesUnder } from './settlePlan.js';

export interface PlanFigures {
  stops: number;
  driveSeconds: number;
  driveMetres: number;
  waitSeconds: number;
}

export interface WholePlan {
  plan: Row;
  unplaced: (Row & { number: number | null; address: string | null })[];
  now: PlanFigures;
  planned: PlanFigures;
  changes: (PlanChange & { why: ChangeSaid | null; number: number | null; address: string | null })[];
  changedSince: Said[];
}

/** A plan with what it leaves out, what accepting it would change, and whether it still holds. */
export async function lookAtPlan(house: House, id: string): Promise<WholePlan> {
  const { rows, plans } = house.stores;
  const plan = await rows.get('plan', id);
  if (!plan) throw new Refused({ code: 'not-found', resource: 'plan', id });
  const open = plan['state'] === 'proposed';
  const next = await plans.planRoutes(id);
  const now = open ? await plans.liveRoutes(String(plan['from_day']), String(plan['to_day'])) : [];
  const changes = open
    ? planChanges(
        now.flatMap((route) => standings(route, true)),
        next.flatMap((route) => standings(route, false)),
      )
    : [];
  const because = (plan['basis'] as Basis | null)?.because ?? {};
  const unplaced = plan['unplaced'] as Row[];
  const names = await plans.orderNames([
    ...changes.map(({ workOrderId }) => workOrderId),
    ...unplaced.map((each) => String(each['workOrderId'])),
    ...unplaced.flatMap(displacesOf),
  ]);
  const starts = new Map(
    next
      .flatMap((route) => standings(route, false))
      .map((each) => [each.workOrderId, new Date(each.startsAt).toISOString()]),
  );
  const promised = await promisedAmong(house, unplaced.flatMap(displacesOf));
  const byId = new Map(names.map((row) => [String(row['id']), row]));
  const named = <T>(each: T, orderId: string) => ({
    ...each,
    number: byId.has(orderId) ? Number(byId.get(orderId)?.['number']) : null,
    address: byId.has(orderId) ? String(byId.get(orderId)?.['address']) : null,
  });
  return {
    plan,
    unplaced: unplaced.map((each) =>
      named(
        withDisplaced(house, each, names, promised, (id) => starts.get(id) ?? null),
        String(each['workOrderId']),
      ),
    ),
    now: figuresOf(now),
    planned: figuresOf(open ? next : []),
    changes: changes.map((each) =>
      named({ ...each, why: because[each.workOrderId] ?? null }, each.workOrderId),
    ),
    changedSince: open ? await changesUnder(house, house.stores, plan) : [],
  };
}

const displacesOf = (unplaced: Row): string[] =>
  (unplaced['cheapestPlace'] as { displaces: string[] } | null)?.displaces ?? [];

async function promisedAmong({ stores }: House, ids: readonly string[]): Promise<ReadonlySet<string>> {
  if (ids.length === 0) return new Set();
  const promises = await stores.rows.all('promise', [
    { column: 'work_order_id', is: 'in', value: [...new Set(ids)] },
    { column: 'ended_at', is: 'null' },
  ]);
  return new Set(promises.map((row) => String(row['work_order_id'])));
}

/** Its cheapest place with who gives way by name. */
function withDisplaced(
  house: House,
  unplaced: Row,
  names: readonly Row[],
  promised: ReadonlySet<string>,
  startsAt: (orderId: string) => string | null,
): Row {
  const place = unplaced['cheapestPlace'] as object | null;
  if (!place) return unplaced;
  const displaces = displacedOrders(house, displacesOf(unplaced), names, (id) => promised.has(id), startsAt);
  return { ...unplaced, cheapestPlace: { ...place, displaces } };
}

/** Orders still ahead on a route; of a live one only what crews really drive to. */
const standings = (route: Row, live: boolean): Standing[] =>
  (route['stops'] as Row[]).flatMap((stop) =>
    stop['work_order_id'] === null ||
    (live && stop['live'] !== true) ||
    stop['order_state'] === 'done' ||
    stop['order_state'] === 'under_way'
      ? []
      : [
          {
            workOrderId: String(stop['work_order_id']),
            crewId: String(route['crew_id']),
            day: String(route['day']),
            startsAt: Date.parse(String(stop['starts_at'])),
          },
        ],
  );

const figuresOf = (routes: readonly Row[]): PlanFigures => {
  const sum = (column: string) => routes.reduce((total, route) => total + Number(route[column]), 0);
  return {
    stops: routes.reduce(
      (total, route) => total + (route['stops'] as Row[]).filter((stop) => stop['kind'] === 'visit').length,
      0,
    ),
    driveSeconds: sum('drive_s'),
    driveMetres: sum('drive_m'),
    waitSeconds: sum('wait_s'),
  };
};
