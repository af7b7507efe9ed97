import type { TaskKind } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { aroseAfter } from '../workLife/gasVisit.js';
import { TRENCHES, trenchFault } from '../workLife/startChecks.js';

/** What a phone may still bring that had to be there before work began. */
export const START_NEEDS = ['plan', 'quote', 'ticket', 'trench'] as const;
export type StartNeed = (typeof START_NEEDS)[number];

/**
 * What a start at that moment lacks and a phone may still bring: where its water goes, the price of the order taken,
 * news of the ticket that was called, a check of its trench. All else that a start lacks refuses it.
 */
export async function startLacks(
  house: House,
  stores: Stores,
  orderId: string,
  at: string,
): Promise<StartNeed[]> {
  const order = await stores.rows.get('work_order', orderId);
  if (order === null || order['state'] === 'done' || order['state'] === 'withdrawn') return [];
  const ofOrder = [{ column: 'work_order_id', is: '=' as const, value: orderId }];
  const open = (await stores.rows.all('precondition', ofOrder)).filter(
    (row) => row['state'] === 'open' && !aroseAfter(row, at),
  );
  const lacks: StartNeed[] = [];
  if (open.some(({ kind }) => kind === 'discharge_plan')) lacks.push('plan');
  if (open.some(({ kind }) => kind === 'quote_accepted')) lacks.push('quote');
  if (open.some(({ kind, facts }) => kind === 'locate_ticket' && 'ticketId' in (facts as object)))
    lacks.push('ticket');
  const tasks = await stores.rows.all('work_order_task', ofOrder);
  const isDug = tasks.some(({ kind }) => TRENCHES.includes(kind as TaskKind));
  const day = house.zone.dayOf(new Date(at));
  if (isDug && (await trenchFault(house, stores, order, at, day)).length > 0) lacks.push('trench');
  return lacks;
}
