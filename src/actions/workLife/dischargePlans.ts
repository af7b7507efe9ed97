import { v7 as newId } from 'uuid';
import type { DrainsTo, Outlet, TaskKind, WaterReceiver } from '../../domain/words.js';
import { outletQuestion } from '../../domain/work/missingFact.js';
import type { DischargeSettings } from '../../domain/work/settings.js';
import { askedOfEnd, dischargeQuestion, planHolds } from '../../domain/work/waterRules.js';
import type { AskedQuestion } from '../desk/questions.js';
import type { Stores } from '../house.js';
import { AHEAD } from '../openOrder.js';
import type { Row } from '../ports.js';

/** Tasks that send water somewhere: where it goes is planned first. */
const SENDS_WATER: readonly TaskKind[] = ['jet', 'hose_flush', 'cable', 'clear_outlet', 'clear_pit'];

export const sendsWater = (tasks: readonly TaskKind[]): boolean =>
  tasks.some((task) => SENDS_WATER.includes(task));

/** What the ends of some systems ask for before anything is flushed there. */
export interface EndsAsking {
  /** Sensitive outlets without a reference on record. */
  decide: Row[];
  /** Lines whose outlet nobody knows. */
  find: Row[];
  /** The systems of those, and such as end nowhere on the books. */
  systemIds: string[];
}

const askedOf = (line: Row) =>
  askedOfEnd({
    drainsTo: line['drains_to'] as DrainsTo,
    outlet: line['outlet'] as Outlet,
    permitRef: line['discharge_permit_ref'] as string | null,
  });

/**
 * @param lines All lines in service of the systems; what is flushed upstream comes out at the system's outlet.
 * @returns Null: nothing is asked.
 */
export function endsAsking(lines: readonly Row[]): EndsAsking | null {
  const asking: EndsAsking = { decide: [], find: [], systemIds: [] };
  for (const systemId of new Set(lines.map((line) => String(line['system_id'])))) {
    const own = lines.filter((line) => line['system_id'] === systemId);
    const [decide, find] = [own.filter((line) => askedOf(line) === 'decide'), own.filter(isUnknownEnd)];
    const endsNowhere = own.every(({ drains_to: to }) => to === 'pit' || to === 'line');
    if (decide.length === 0 && find.length === 0 && !endsNowhere) continue;
    asking.decide.push(...decide);
    asking.find.push(...find);
    asking.systemIds.push(systemId);
  }
  return asking.systemIds.length === 0 ? null : asking;
}

const isUnknownEnd = (line: Row): boolean => askedOf(line) === 'find';

/**
 * Opens the discharge plan of an order. What a person decided for the last flush of the same system holds for this one
 * too: the plan is then met, and says whose it was. Where no outlet is sensitive and one is unknown the firm's standing
 * plan is taken, marked as assumed, and the crew is asked to find the outlet; everything else waits for a decision.
 *
 * @param asking Null where water is pumped rather than flushed.
 */
export async function openDischargePlan(
  stores: Stores,
  orderId: string,
  asking: EndsAsking | null,
  at: string,
  standing: DischargeSettings,
): Promise<void> {
  const decided = await asDecidedBefore(stores, asking?.systemIds ?? []);
  if (decided !== null) return takePlan(stores, orderId, decided, at, { author: decided.author });
  if (asking === null || asking.decide.length > 0) {
    await stores.rows.insert('precondition', {
      id: newId(),
      work_order_id: orderId,
      kind: 'discharge_plan',
      facts: questionOf(asking?.decide ?? []),
    });
    return;
  }
  await takePlan(stores, orderId, { ...standing, permitRef: null }, at, {
    author: 'standing discharge plan',
    assumed: true,
    because: unknownWords(asking.find),
  });
  await askForOutlet(stores, orderId, asking.find);
}

interface PlanTaken {
  receiver: WaterReceiver;
  place: string | null;
  permitRef: string | null;
  sludgeTo: string | null;
}

/** What people decided for the last flush of each of these systems, where it is one and the same and holds. */
async function asDecidedBefore(
  stores: Stores,
  systemIds: readonly string[],
): Promise<(PlanTaken & { author: string }) | null> {
  const earlier: (Row | null)[] = [];
  for (const id of systemIds) earlier.push(await stores.workLife.lastFlushPlan(id, SENDS_WATER));
  const plan = earlier[0] ?? null;
  if (plan === null || !earlier.every((each) => holdsAs(each, plan))) return null;
  return {
    receiver: plan['receiver'] as WaterReceiver,
    place: plan['place'] as string | null,
    permitRef: plan['permit_ref'] as string | null,
    sludgeTo: plan['sludge_to'] as string | null,
    author: asOn(plan['number']),
  };
}

const asOn = (orderNumber: unknown): string => `as on order ${String(orderNumber)}`;

/**
 * Work still ahead that went by the plan of an order goes by its newer one, where that holds for it too.
 *
 * @param plan Row of the plan that counts now.
 */
export async function followPlan(stores: Stores, order: Row, plan: Row): Promise<void> {
  const { receiver, place, permit_ref, sludge_to } = plan;
  if (!planHolds(receiver as WaterReceiver, permit_ref as string | null)) return;
  const taken = await stores.rows.all('precondition', [
    { column: 'kind', is: '=', value: 'discharge_plan' },
    { column: 'state', is: '=', value: 'met' },
    { column: 'met_by', is: '=', value: asOn(order['number']) },
  ]);
  const ahead = await stores.rows.all('work_order', [
    { column: 'id', is: 'in', value: taken.map((row) => row['work_order_id']) },
    { column: 'state', is: 'in', value: AHEAD },
  ]);
  for (const { id } of ahead) {
    const [precondition] = taken.filter((row) => row['work_order_id'] === id);
    await stores.rows.update('precondition', String(precondition?.['id']), {
      facts: { receiver, permitRef: permit_ref },
    });
    for (const water of await stores.rows.all('water_record', [
      { column: 'work_order_id', is: '=', value: id },
      { column: 'phase', is: '=', value: 'planned' },
      { column: 'author', is: '=', value: asOn(order['number']) },
    ]))
      await stores.rows.update('water_record', String(water['id']), {
        receiver,
        place,
        permit_ref,
        sludge_to,
      });
  }
}

const holdsAs = (each: Row | null, plan: Row): boolean =>
  each !== null &&
  each['receiver'] === plan['receiver'] &&
  planHolds(each['receiver'] as WaterReceiver, each['permit_ref'] as string | null);

/** The plan on record, and the precondition met by it. */
async function takePlan(
  stores: Stores,
  orderId: string,
  { receiver, place, permitRef, sludgeTo }: PlanTaken,
  at: string,
  { author, assumed = false, because }: { author: string; assumed?: boolean; because?: string },
): Promise<void> {
  await stores.rows.insert('water_record', {
    id: newId(),
    work_order_id: orderId,
    phase: 'planned',
    assumed,
    receiver,
    place,
    permit_ref: permitRef,
    sludge_to: sludgeTo,
    at,
    author,
  });
  await stores.rows.insert('precondition', {
    id: newId(),
    work_order_id: orderId,
    kind: 'discharge_plan',
    state: 'met',
    met_at: at,
    met_by: author,
    facts: { receiver, permitRef, ...(assumed ? { assumed, place, sludgeTo, because } : {}) },
  });
}

const unknownWords = (find: readonly Row[]): string =>
  find.length === 0
    ? 'the water is pumped round the line, or where the system ends is not on the books'
    : `outlet unknown: ${find.map(({ name }) => String(name)).join('; ')}`;

/** The fact asked on the visit is the outlet, of the first line where nobody knows it. */
async function askForOutlet(stores: Stores, orderId: string, [line]: readonly Row[]): Promise<void> {
  if (line === undefined) return;
  const question: AskedQuestion = {
    ...outletQuestion({ lineId: String(line['id']), name: String(line['name']) }),
    siteId: String(line['site_id']),
  };
  await stores.rows.update('work_order', orderId, { question });
}

function questionOf(outlets: readonly Row[]): Row {
  const [first] = outlets;
  if (first === undefined) return { decide: 'where the water that is pumped or let out goes' };
  const named = outlets.map(
    (line) => `${String(line['name'])}: ${String(line['outlet']).replaceAll('_', ' ')}`,
  );
  return { outlets: named.join('; '), decide: dischargeQuestion(first['outlet'] as Outlet) };
}

/**
 * A line's outlet became known: orders whose plan was assumed go by it. Where the system has one that takes no water
 * without a reference they wait for a decision; else the plan stands, also where another answer had put it in question.
 *
 * @param since When it was seen: what began before went by the plan; null: nobody said.
 */
export async function heedOutlet(stores: Stores, lineId: string, since: string | null): Promise<void> {
  const line = await stores.rows.get('line', lineId);
  if (line === null || line['system_id'] === null) return;
  const systemId = String(line['system_id']);
  const inService = await stores.rows.all('line', [
    { column: 'system_id', is: '=', value: line['system_id'] },
    { column: 'archived_on', is: 'null' },
  ]);
  const decide = inService.filter((each) => askedOf(each) === 'decide');
  if (decide.length === 0) {
    for (const { id, facts } of await stores.workLife.questionedPlans(systemId))
      await stores.rows.update('precondition', String(id), (facts as { before: Row }).before);
    return;
  }
  for (const { id, met_at, met_by, facts } of await stores.workLife.assumedPlans(systemId))
    await stores.rows.update('precondition', String(id), {
      state: 'open',
      met_at: null,
      met_by: null,
      facts: {
        ...questionOf(decide),
        because: (facts as Row)['because'],
        ...(since === null ? {} : { since }),
        before: { state: 'met', met_at, met_by, facts },
      },
    });
}
