import type { ProposalKind, TaskKind } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type Because, digLine } from '../workLife/climb.js';
import { makeLinkedOrder } from '../workLife/linkedOrder.js';

const TASK: Record<ProposalKind, TaskKind> = {
  cleanout: 'add_cleanout',
  smooth_pipe: 'dig_and_replace',
  alarm: 'fit_alarm',
  second_pump: 'fit_pump',
};

const WORDS: Record<ProposalKind, string> = {
  cleanout: 'a cleanout',
  smooth_pipe: 'a smooth pipe in place of the corrugated one',
  alarm: 'an alarm on the pump',
  second_pump: 'a second pump',
};

/**
 * The order for a proposal that was accepted; a smooth pipe is dug in linked orders, of which this is the first. With
 * a price its quote is accepted by that answer; without one the order waits for a quote. Where the same work is
 * ordered already, that order takes the answer.
 *
 * @returns The order.
 */
export async function orderProposed(house: House, stores: Stores, proposal: Row): Promise<Row> {
  const kind = proposal['kind'] as ProposalKind;
  const task = TASK[kind];
  const because: Because = {
    code: 'proposal_accepted',
    facts: { proposalId: proposal['id'], kind },
    text: `the client accepted ${WORDS[kind]}, proposed on ${String(proposal['offered_on'])}`,
  };
  const order =
    (await orderedAlready(stores, task, proposal)) ??
    (await newOrder(house, stores, task, proposal, because));
  const price = proposal['price_minor'];
  if (price === null || !['wanted', 'placed'].includes(String(order['state']))) return order;
  await acceptQuote(house, stores, order, proposal, Number(price), because.text);
  return (await stores.rows.update('work_order', String(order['id']), { price_minor: price })) ?? order;
}

async function orderedAlready(stores: Stores, kind: TaskKind, proposal: Row): Promise<Row | null> {
  const on = proposal['line_id'] === null ? 'pit_id' : 'line_id';
  const [task] = await stores.rows.all(
    'work_order_task',
    [
      { column: on, is: '=', value: proposal[on] },
      { column: 'kind', is: '=', value: kind },
      { column: 'open', is: '=', value: true },
    ],
    'part',
  );
  return task === undefined ? null : stores.rows.lock('work_order', String(task['work_order_id']));
}

async function newOrder(
  house: House,
  stores: Stores,
  kind: TaskKind,
  proposal: Row,
  because: Because,
): Promise<Row> {
  const today = house.zone.dayOf(house.clock.now());
  const { line_id: lineId, pit_id: pitId } = proposal;
  if (kind === 'dig_and_replace') {
    const line = (await stores.rows.get('line', String(lineId))) ?? {};
    const lengthM = line['length_m'] === null ? null : Number(line['length_m']);
    // The whole line. It still carries water, so no temporary pump stands there that would have to go.
    const run = {
      fromM: lengthM === null ? null : 0,
      toM: lengthM,
      depthM: null,
      depthOf: null,
      pitId: null,
    };
    const [first, ...later] = await digLine(stores, line, run, because, { orderId: null, today });
    // The price agreed is for all of it and stands at the first.
    if (proposal['price_minor'] !== null)
      for (const { id } of later) await stores.rows.update('work_order', String(id), { price_minor: 0 });
    if (first) return first;
  }
  const made = await makeLinkedOrder(
    stores,
    {
      siteId: String(proposal['site_id']),
      cause: 'asked',
      becauseOf: [because],
      tasks: [
        {
          kind,
          lineId: lineId === null ? null : String(lineId),
          pitId: pitId === null ? null : String(pitId),
          part: 1,
          plan: pitId === null ? {} : { wiring: 'by a licensed electrician where the code asks for one' },
        },
      ],
      notBefore: null,
      wantedBy: null,
      followsId: null,
      followsAfterDays: 0,
      returnsForId: null,
      priceBasis: 'quote',
      waitsFor: [],
    },
    today,
  );
  if (made === null) throw new RangeError(`proposal ${String(proposal['id'])} made no order`);
  return made;
}

async function acceptQuote(
  house: House,
  stores: Stores,
  order: Row,
  proposal: Row,
  price: number,
  lines: string,
): Promise<void> {
  const now = house.clock.now();
  const day = String(proposal['answered_on']);
  const acceptedAt = day === house.zone.dayOf(now) ? now : house.zone.instantOf(day, NOON_S);
  const open = await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: order['id'] },
    { column: 'kind', is: '=', value: 'quote_accepted' },
    { column: 'state', is: '=', value: 'open' },
  ]);
  for (const { id } of open)
    await stores.rows.update('precondition', String(id), {
      state: 'met',
      facts: {
        lines,
        notToExceedMinor: price,
        acceptedBy: proposal['answered_by'],
        acceptedAt: acceptedAt.toISOString(),
      },
      met_at: now.toISOString(),
      met_by: proposal['answered_by'],
    });
}

/** Of a day nobody told the hour of. */
const NOON_S = 12 * 3600;
