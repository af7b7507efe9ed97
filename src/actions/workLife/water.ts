import { v7 as newId } from 'uuid';
import type { TaskKind, WaterReceiver } from '../../domain/words.js';
import { letGoFaults, sludgeInto, takesNone } from '../../domain/work/waterRules.js';
import type { House, Stores } from '../house.js';
import { mayWorkOnOrder } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { followPlan } from './dischargePlans.js';
import { recordIncident } from './incidents.js';

/** Where flushed water and sludge go, or went. */
export interface WaterGone {
  receiver: WaterReceiver;
  place: string | null;
  permitRef: string | null;
  waterL: number | null;
  sludgeL: number | null;
  sludgeTo: string | null;
}

const rowOf = (
  orderId: unknown,
  phase: 'planned' | 'recorded',
  water: WaterGone,
  at: string,
  author: string,
  id: string = newId(),
): Row => ({
  id,
  work_order_id: orderId,
  phase,
  receiver: water.receiver,
  place: water.place,
  permit_ref: water.permitRef,
  water_l: water.waterL,
  sludge_l: water.sludgeL,
  sludge_to: water.sludgeTo,
  at,
  author,
});

/** Where the water of a visit is to go, as somebody decided it. */
export interface NewDischargePlan {
  id: string;
  workOrderId: string;
  water: WaterGone;
  at: string;
}

/**
 * Plans where the water of a visit goes; the order's discharge plan is met by it. Of several the latest counts, and
 * before any that was assumed.
 *
 * @throws {Refused} A storm drain, water or sewer without a reference, for water or sludge; nobody for flushed water.
 */
export async function planWater(
  house: House,
  stores: Stores,
  actor: Actor,
  { id, workOrderId, water, at }: NewDischargePlan,
): Promise<Row> {
  const order = await stores.rows.lock('work_order', workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: workOrderId });
  await mayWorkOnOrder(house, stores, actor, order, at);
  if (liesAhead(house, at))
    throw ruleBroken(
      'discharge-plan',
      '#/plannedAt',
      `${at} lies in the future`,
      'the moment it was decided',
    );
  const ofOrder = { column: 'work_order_id', is: '=' as const, value: workOrderId };
  // What is found on site may come before the plan or after; the end of the visit asks again.
  const tasks = await stores.rows.all('work_order_task', [ofOrder, { column: 'added_by', is: 'null' }]);
  const faults = [
    ...letGoFaults(water),
    ...noneFaults(
      water,
      tasks.map(({ kind }) => kind as TaskKind),
    ),
  ];
  if (faults.length > 0)
    throw new Refused({
      code: 'rule-broken',
      rule: 'discharge-plan',
      faults: faults.map(({ field, detail, remedy }) => ({ pointer: `#/${field}`, detail, remedy })),
    });
  const planned = await stores.rows.insert(
    'water_record',
    rowOf(workOrderId, 'planned', water, at, actor.name, id),
  );
  const plans = await stores.rows.all('water_record', [
    ofOrder,
    { column: 'phase', is: '=', value: 'planned' },
    { column: 'assumed', is: '=', value: false },
  ]);
  const last = plans.sort(byMoment).at(-1) ?? planned;
  for (const row of await stores.rows.all('precondition', [
    ofOrder,
    { column: 'kind', is: '=', value: 'discharge_plan' },
    { column: 'state', is: 'in', value: ['open', 'met'] },
  ]))
    await stores.rows.update('precondition', String(row['id']), {
      state: 'met',
      met_at: last['at'],
      met_by: last['author'],
      facts: { receiver: last['receiver'], permitRef: last['permit_ref'] },
    });
  await followPlan(stores, order, last);
  return planned;
}

const byMoment = (a: Row, b: Row): number =>
  Date.parse(String(a['at'])) - Date.parse(String(b['at'])) || (String(a['id']) < String(b['id']) ? -1 : 1);

/** What is wrong with saying that nobody took the water of these tasks. */
export const noneFaults = (water: WaterGone, tasks: readonly TaskKind[]) =>
  takesNone(water.receiver, tasks)
    ? [
        {
          field: 'receiver',
          detail: 'none took the water of a visit that jets or flushes',
          remedy: 'who or what takes it: own_ground, caught, or another with its reference',
        },
      ]
    : [];

/** Records where the water went. What went where it may not is an incident, with who must be told. */
export async function recordWater(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  water: WaterGone,
  at: string,
): Promise<Row> {
  const recorded = await stores.rows.insert(
    'water_record',
    rowOf(order['id'], 'recorded', water, at, actor.name),
  );
  if (letGoFaults(water).length > 0)
    await recordIncident(house, stores, actor, {
      id: newId(),
      kind: 'discharge',
      siteId: String(order['site_id']),
      workOrderId: String(order['id']),
      happenedAt: at,
      what: `${wentWhere(water)} without a reference`,
      consequence: 'none',
    });
  return recorded;
}

function wentWhere({ receiver, place, sludgeTo }: WaterGone): string {
  const water = `flushed water went to ${receiver.replaceAll('_', ' ')}${place === null ? '' : ` (${place})`}`;
  return sludgeInto(sludgeTo) === null ? water : `${water}, sludge to ${sludgeTo}`;
}
