import { addDays } from '../../domain/calendar/isoDate.js';
import { TASK_KINDS, type TaskKind } from '../../domain/words.js';
import { tellsOfFlood } from '../../domain/work/cautions.js';
import { opensGround } from '../../domain/work/preconditionRules.js';
import { trenchCheckHolds } from '../../domain/work/trenchRules.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type FieldFault, Refused } from '../problems.js';
import { aroseAfter } from './gasVisit.js';
import { startStopFaults } from './hardStops.js';
import { openFor } from './locateTickets.js';
import { checkOnRecord, rainAt } from './trenchChecks.js';

/** Work with a trench somebody stands in. */
export const TRENCHES: readonly TaskKind[] = ['dig_and_replace', 'add_cleanout'];
/** Work that hurts people who did not see its cautions: all but a look. */
const SEEN_FIRST: readonly TaskKind[] = TASK_KINDS.filter((kind) => kind !== 'survey' && kind !== 'inspect');

const fault = (pointer: string, detail: string, remedy: string): FieldFault => ({ pointer, detail, remedy });

/**
 * What must be true at the moment work begins.
 *
 * @throws {Refused} Open preconditions, a ticket not good that day, no trench check of this shift, cautions not seen.
 */
export async function refuseStart(
  house: House,
  stores: Stores,
  order: Row,
  startedAt: string,
  cautionsSeen: boolean,
): Promise<void> {
  const of = (table: string) =>
    stores.rows.all(table, [{ column: 'work_order_id', is: '=', value: order['id'] }]);
  const preconditions = await of('precondition');
  const open = preconditions.filter((row) => row['state'] === 'open' && !aroseAfter(row, startedAt));
  if (open.length > 0)
    throw new Refused({
      code: 'rule-broken',
      rule: 'preconditions',
      faults: open.map((row) =>
        fault('#', `${String(row['kind'])} is open`, 'meet or waive it before the crew goes'),
      ),
    });
  const taskRows = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: order['id'] }],
    'position',
  );
  const tasks = taskRows.map((row) => row['kind'] as TaskKind);
  const day = house.zone.dayOf(new Date(startedAt));
  const faults = [
    ...(await followFaults(house, stores, order, day)),
    ...(await startStopFaults(stores, taskRows, startedAt)),
    ...(opensGround(tasks, order['kit'] as string[])
      ? await ticketFaults(house, stores, order, preconditions, startedAt)
      : []),
    ...(tasks.some((task) => TRENCHES.includes(task))
      ? await trenchFault(house, stores, order, startedAt, day)
      : []),
  ];
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'dig', faults });
  const flooded = tellsOfFlood(order['because_of'] as { code: string }[]);
  if (!cautionsSeen && (flooded || tasks.some((task) => SEEN_FIRST.includes(task))))
    throw new Refused({
      code: 'rule-broken',
      rule: 'cautions',
      faults: [
        fault(
          '#/cautionsSeen',
          'the cautions of this stop were not seen',
          'show them (GET …/cautions), then send true',
        ),
      ],
    });
}

/** What an order follows is done, and so many calendar days have passed since. */
async function followFaults(house: House, stores: Stores, order: Row, day: string): Promise<FieldFault[]> {
  if (order['follows_id'] === null) return [];
  const before = await stores.rows.get('work_order', String(order['follows_id']));
  if (!before || before['state'] === 'withdrawn') return [];
  const number = String(before['number']);
  if (before['state'] !== 'done')
    return [
      fault(
        '#',
        `order ${number}, which comes first, is ${String(before['state'])}`,
        `finish order ${number}`,
      ),
    ];
  const after = Number(order['follows_after_days']);
  const earliest = addDays(house.zone.dayOf(new Date(String(before['done_at']))), after);
  if (day >= earliest) return [];
  return [
    fault(
      '#/startedAt',
      `comes ${after} calendar days after order ${number}: not before ${earliest}`,
      `${earliest} or later`,
    ),
  ];
}

/** A dig has a ticket on record that is in force, with nothing open on it, and begins after its notice has run. */
async function ticketFaults(
  house: House,
  stores: Stores,
  order: Row,
  preconditions: readonly Row[],
  startedAt: string,
): Promise<FieldFault[]> {
  const met = preconditions.find((row) => row['kind'] === 'locate_ticket' && row['state'] === 'met');
  const ticketId = (met?.['facts'] as { ticketId?: string } | undefined)?.ticketId;
  const ticket = ticketId === undefined ? null : await stores.rows.get('locate_ticket', ticketId);
  if (!met || !ticket)
    return [
      fault(
        '#',
        'no locate ticket is on record for this dig',
        'call the one-call centre: POST …/locate-tickets',
      ),
    ];
  if (ticket['replaced_by_id'] !== null)
    return [fault('#', 'the locate ticket was replaced by a newer one', 'wait until the newer one is met')];
  const open = await openFor(stores, ticket, String(order['id']));
  if (open.length > 0)
    return [fault('#', open.join('; '), 'say what came back: POST /v1/locate-tickets/{id}/news')];
  const from = String(ticket['dig_from']);
  if (Date.parse(startedAt) < Date.parse(from))
    return [fault('#/startedAt', `the locate ticket is good from ${from}`, `${from} or later`)];
  const to = met['valid_to'] === null ? null : String(met['valid_to']);
  if (to !== null && house.zone.dayOf(new Date(startedAt)) > to)
    return [fault('#/startedAt', `the locate ticket ended on ${to}`, 'call a new ticket')];
  return [];
}

/** A trench that nobody checked in this shift, or since the rain; empty: one that passed holds. */
export async function trenchFault(
  house: House,
  stores: Stores,
  order: Row,
  startedAt: string,
  day: string,
): Promise<FieldFault[]> {
  const checks = await stores.rows.all('trench_check', [
    { column: 'work_order_id', is: '=', value: order['id'] },
  ]);
  const rain = await rainAt(stores, order, startedAt);
  const holds = trenchCheckHolds(
    checks.map((row) => checkOnRecord(house, row)),
    day,
    Date.parse(startedAt),
    rain,
  );
  if (holds) return [];
  return [
    fault(
      '#',
      rain === null
        ? 'no trench check of this shift passed'
        : 'no trench check of this shift passed since the last rain',
      'a competent person checks the trench: POST …/trench-checks',
    ),
  ];
}
