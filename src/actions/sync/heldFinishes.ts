import type { NotDoneReason } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { type Problem, Refused } from '../problems.js';
import type { AttemptEnd } from '../workLife/attemptEnd.js';
import { keepForPerson } from './applySync.js';
import type { SyncWork } from './syncWork.js';

/**
 * Somebody ended a visit by its own address while phones held ends of it that wait: they wait no longer. One that says
 * the same is taken out, one that says otherwise is kept as a conflict for a person.
 *
 * @returns Ids of the conflicts, and of all that was held.
 */
export async function settleHeldFinishes(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  end: AttemptEnd,
): Promise<{ conflictIds: string[]; heldIds: string[] }> {
  const [attempt] = await stores.rows.all(
    'attempt',
    [
      { column: 'work_order_id', is: '=', value: orderId },
      { column: 'ended_at', is: '=', value: end.endedAt },
    ],
    'started_at',
  );
  const held = await stores.rows.all(
    'sync_item',
    [
      { column: 'work_order_id', is: '=', value: orderId },
      { column: 'kind', is: '=', value: 'finish' },
      { column: 'state', is: '=', value: 'waiting' },
      { column: 'happened_at', is: '>=', value: attempt?.['started_at'] },
    ],
    'happened_at',
  );
  const conflictIds: string[] = [];
  for (const row of held) {
    const id = String(row['id']);
    const work = row['work'] as SyncWork;
    const settled = { waits_for: [], settled_at: house.clock.now().toISOString() };
    if (work.kind === 'finish' && saysTheSame(work.end, end)) {
      await stores.rows.update('sync_item', id, {
        ...settled,
        state: 'withdrawn',
        settled_by: `${actor.name}: ended the visit the same way`,
      });
      continue;
    }
    const problem: Problem = {
      code: 'wrong-state',
      resource: 'work_order',
      id: orderId,
      state: end.result,
      allowed: ['under_way'],
      detail: `${actor.name} ended the visit otherwise meanwhile: ${endText(end)}.`,
    };
    await keepForPerson(stores, { row, work, because: new Refused(problem).message });
    await stores.rows.update('sync_item', id, { ...settled, state: 'conflict', problem });
    conflictIds.push(id);
  }
  return { conflictIds, heldIds: held.map((row: Row) => String(row['id'])) };
}

const saysTheSame = (a: AttemptEnd, b: AttemptEnd): boolean =>
  a.result === b.result && a.reason === b.reason && a.flowProven === b.flowProven;

const spaced = (code: string): string => code.replaceAll('_', ' ');

const endText = ({ result, reason }: { result: string; reason: NotDoneReason | null }): string =>
  reason === null ? spaced(result) : `${spaced(result)}, ${spaced(reason)}`;
