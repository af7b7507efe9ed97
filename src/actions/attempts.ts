import { v7 as newId } from 'uuid';
import { endEvent } from '../domain/work/orderLife.js';
import type { House, Stores } from './house.js';
import type { Actor, Row } from './ports.js';
import { tellFinished, tellLateVisits } from './telling/visits.js';
import { type AttemptEnd, resultOf, waterWords } from './workLife/attemptEnd.js';
import { afterDone } from './workLife/doneWork.js';
import { asBeforeGas, holdAgain, reopenBeforeGas } from './workLife/endBeforeGas.js';
import { refuseUnfinished } from './workLife/endChecks.js';
import { holdRaised, recordGas } from './workLife/gas.js';
import { gasAfterStart } from './workLife/gasVisit.js';
import { keepTicketAlive } from './workLife/locateTickets.js';
import { billedFor, endOfOrder } from './workLife/notDoneWork.js';
import { orderCautions } from './workLife/orderCautions.js';
import { lockFor } from './workLife/orderLock.js';
import { climbPlugs, orderPitRepairs } from './workLife/raisedByVisit.js';
import { refuseStart } from './workLife/startChecks.js';
import { refuseOldStart } from './workLife/startTime.js';
import { recordWater } from './workLife/water.js';

export type { AttemptEnd };

/**
 * The crew is on site and has seen its cautions: an attempt begins. Where another of the crew said so of the same
 * visit, the earlier of both is its beginning. Where gas was met after it, heard of before it, the visit ended there.
 */
export async function startWorkOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  startedAt: string,
  cautionsSeen = false,
): Promise<Row> {
  const visit = await visitOfCrew(house, stores, actor, id, startedAt);
  if (visit !== null) return beginEarlier(house, stores, actor, visit, startedAt);
  const { order, next } = await lockFor(house, stores, actor, id, startedAt, 'start');
  const [stop] = await stores.rows.all('stop', liveStopOf(id));
  const routeId = stop === undefined ? null : String(stop['route_id']);
  await refuseOldStart(house, stores, order, startedAt, routeId);
  await refuseStart(house, stores, order, startedAt, cautionsSeen);
  const crewId = await crewOn(house, stores, actor, startedAt);
  await stores.rows.insert('attempt', {
    id: newId(),
    work_order_id: id,
    stop_id: stop?.['id'] ?? null,
    crew_id: crewId,
    author: actor.name,
    started_at: startedAt,
    cautions_seen: cautionsSeen ? (await orderCautions(stores, order)).map(({ code }) => code) : [],
  });
  await keepTicketAlive(stores, id);
  const begun = (await stores.rows.update('work_order', id, { state: next, started_at: startedAt })) ?? order;
  const expectedEnd = Date.parse(startedAt) + Number(order['minutes']) * 60_000;
  await tellLateVisits(house, stores, id, new Date(expectedEnd).toISOString());
  const left = await gasAfterStart(house, stores, id, startedAt);
  if (left === null) return begun;
  const ended = await finishWorkOrder(house, stores, actor, id, left);
  await holdRaised(stores, id, order['site_id']);
  return ended;
}

const crewOn = (house: House, stores: Stores, actor: Actor, at: string): Promise<string | null> =>
  actor.memberId === null
    ? Promise.resolve(null)
    : stores.work.crewOf(actor.memberId, house.zone.dayOf(new Date(at)));

/** The attempt of the actor's crew that a start of that day belongs to: the first that had not ended before it. */
async function visitOfCrew(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  startedAt: string,
): Promise<Row | null> {
  if (actor.memberId === null) return null;
  await stores.rows.lock('work_order', id);
  const attempts = await stores.rows.all(
    'attempt',
    [{ column: 'work_order_id', is: '=', value: id }],
    'started_at',
  );
  const visit = attempts.find(
    ({ ended_at: end }) => end === null || Date.parse(String(end)) >= Date.parse(startedAt),
  );
  if (visit === undefined || visit['crew_id'] === null) return null;
  const crewId = await crewOn(house, stores, actor, startedAt);
  const sameDay =
    house.zone.dayOf(new Date(String(visit['started_at']))) === house.zone.dayOf(new Date(startedAt));
  return crewId === visit['crew_id'] && sameDay ? visit : null;
}

async function beginEarlier(
  house: House,
  stores: Stores,
  actor: Actor,
  visit: Row,
  startedAt: string,
): Promise<Row> {
  const id = String(visit['work_order_id']);
  const order = (await stores.rows.get('work_order', id)) ?? {};
  if (Date.parse(startedAt) >= Date.parse(String(visit['started_at']))) return order;
  await refuseOldStart(house, stores, order, startedAt, null);
  await stores.rows.update('attempt', String(visit['id']), { started_at: startedAt, author: actor.name });
  // Wanted again, the order has no start until its next visit.
  if (order['started_at'] === null) return order;
  return (await stores.rows.update('work_order', id, { started_at: startedAt })) ?? order;
}

const liveStopOf = (id: string) => [
  { column: 'work_order_id', is: '=' as const, value: id },
  { column: 'live', is: '=' as const, value: true },
];

/**
 * Ends the attempt, and in the same transaction all that follows from it: the next place of work not done, return
 * work, the next rung, a decision, new sections. Done needs three things only: pump restored, flow proven answered,
 * where the water went. Where gas, met later, was heard of sooner and had ended the visit, this is its end all the same.
 */
export async function finishWorkOrder(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  end: AttemptEnd,
): Promise<Row> {
  const event = endEvent(end.result, end.reason === 'refused');
  const reopened = await reopenBeforeGas(stores, id, end.endedAt);
  const { order, next } = await lockFor(house, stores, actor, id, end.endedAt, event);
  const [attempt] = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: id },
    { column: 'ended_at', is: 'null' },
  ]);
  if (!attempt) throw new RangeError(`order ${id} is under way without an attempt`);
  const tasks = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: id }],
    'position',
  );
  await refuseUnfinished(house, stores, order, end, String(attempt['started_at']), tasks);

  const day = house.zone.dayOf(new Date(end.endedAt));
  const beforeGas = end.reason === 'gas' ? await asBeforeGas(stores, order, tasks) : null;
  await endTasks(stores, end, tasks);
  await stores.rows.update('attempt', String(attempt['id']), {
    ended_at: end.endedAt,
    result: end.result,
    reason: end.reason,
    pump_restored: end.pumpRestored,
    flow_proven: end.flowProven,
    water_went_to: waterWords(end),
    billed: await billedFor(stores, id, day, end),
    note: end.note,
    before_gas: beforeGas,
  });
  if (end.reason === 'gas')
    await recordGas(house, stores, actor, order, end.endedAt, end.note ?? 'gas: left at once');
  if (end.water !== null) await recordWater(house, stores, actor, order, end.water, end.endedAt);
  if (next !== 'done')
    for (const stop of await stores.rows.all('stop', liveStopOf(id)))
      await stores.rows.update('stop', String(stop['id']), { live: false });
  const ended =
    (await stores.rows.update('work_order', id, await endOfOrder(stores, id, end, next, day))) ?? order;
  if (next === 'done') await afterDone(stores, actor, ended, end, day);
  else await climbPlugs(stores, id, String(attempt['started_at']), { today: day, foundAt: end.endedAt });
  await orderPitRepairs(stores, id, { today: day, foundAt: end.endedAt });
  await tellFinished(house, stores, ended, {
    // What was told of the end by gas is put right.
    once: reopened === null ? String(attempt['id']) : `${String(attempt['id'])}:${end.endedAt}`,
    crewId: attempt['crew_id'],
    endedAt: end.endedAt,
    result: end.result,
    reason: end.reason,
  });
  await tellLateVisits(house, stores, id, end.endedAt);
  if (reopened !== null) await holdAgain(stores, order['site_id'], reopened);
  return ended;
}

async function endTasks(stores: Stores, end: AttemptEnd, tasks: readonly Row[]): Promise<void> {
  const stays = end.result === 'not_done' && end.reason !== 'refused';
  for (const task of tasks) {
    const { result, reason } = resultOf(end, task);
    const said = end.tasks.find((each) => each.id === task['id']);
    // Work not done stays open in its order; what was done of it all the same is done.
    const isDeclined = task['declined_at'] !== null && said === undefined;
    const isOpen = stays && result !== 'done' && result !== 'not_needed' && !isDeclined;
    const change = {
      result: isOpen ? null : result,
      done_at: result === 'done' ? (task['done_at'] ?? end.endedAt) : null,
      reason: !isOpen && result === 'not_done' ? (reason ?? end.reason ?? 'out_of_time') : null,
      taken_minutes: said?.takenMinutes ?? task['taken_minutes'] ?? null,
      ...(said?.found ? { plan: { ...(task['plan'] as object), found: said.found } } : {}),
    };
    // Most were said before, one by one.
    const isNews = Object.entries(change).some(([column, value]) => task[column] !== value);
    if (isNews) await stores.rows.update('work_order_task', String(task['id']), change);
  }
}
