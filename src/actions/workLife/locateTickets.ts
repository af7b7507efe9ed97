import type { LifeFrom, LifeUnit, NoticeUnit, TaskKind, UtilityAnswer } from '../../domain/words.js';
import {
  type LocateRule,
  noEmergency,
  PRIVATE_LINES_CAUTION,
  silentOn,
  type TicketDays,
  ticketDays,
  ticketOpen,
  type UtilityOnTicket,
  yearsUnlisted,
} from '../../domain/work/locateTicket.js';
import { type Dig, digsNotOn, digsOf } from '../../domain/work/ticketDigs.js';
import { type HinderedVisit, hinderedOrders } from '../desk/hinderedVisits.js';
import type { House, Stores } from '../house.js';
import { mayWorkOn } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

export interface NewTicket {
  id: string;
  workOrderId: string;
  ruleId: string;
  number: string | null;
  calledAt: string;
  emergencyBecause: string | null;
  utilities: string[];
}

export const ruleOf = (row: Row): LocateRule => ({
  notice: Number(row['notice']),
  noticeUnit: row['notice_unit'] as NoticeUnit,
  callDayCounts: row['call_day_counts'] === true,
  life: row['life'] === null ? null : Number(row['life']),
  lifeUnit: row['life_unit'] as LifeUnit | null,
  lifeFrom: row['life_from'] as LifeFrom,
  lifeCountsFirst: row['life_counts_first'] === true,
  startWithinDays: row['start_within_days'] === null ? null : Number(row['start_within_days']),
  startWithinUnit: row['start_within_unit'] as LifeUnit,
  holidays: row['holidays'] as string[],
});

const DAY_MS = 86_400_000;

/**
 * Records a call to the one-call centre: from and until when one may dig. It holds for the order and for the parts
 * of the same dig that follow it, and replaces the ticket before it.
 *
 * @throws {Refused} A rule nobody confirmed against local law, a call in the future.
 */
export async function recordTicket(
  house: House,
  stores: Stores,
  actor: Actor,
  ticket: NewTicket,
): Promise<Row> {
  const order = await stores.rows.lock('work_order', ticket.workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: ticket.workOrderId });
  const rule = await stores.rows.get('locate_rule', ticket.ruleId);
  if (!rule)
    throw new Refused({
      code: 'unknown-reference',
      faults: [
        {
          pointer: '#/ruleId',
          detail: `there is no rule ${ticket.ruleId}`,
          remedy: 'the id of a locate rule',
        },
      ],
    });
  if (rule['confirmed_on'] === null)
    throw ruleBroken(
      'locate-ticket',
      '#/ruleId',
      'nobody confirmed the rule against local law',
      'the owner confirms it first (confirmedBy, confirmedOn)',
    );
  refuseCall(house, ticket);
  const isEmergency = ticket.emergencyBecause !== null;
  const days = ticketDays(ruleOf(rule), new Date(ticket.calledAt), house.zone, isEmergency);
  if (isEmergency) refuseNoEmergency(house, order, ticket);
  else refuseUnlisted(house, ruleOf(rule), ticket, days);
  const old = await stores.rows.all('locate_ticket', [
    { column: 'work_order_id', is: '=', value: ticket.workOrderId },
    { column: 'replaced_by_id', is: 'null' },
  ]);
  refuseOutlived(house, ticket, days, old);
  for (const row of old)
    await stores.rows.update('locate_ticket', String(row['id']), { replaced_by_id: ticket.id });
  const recorded = await stores.rows.insert('locate_ticket', {
    id: ticket.id,
    work_order_id: ticket.workOrderId,
    rule_id: ticket.ruleId,
    number: ticket.number,
    called_at: ticket.calledAt,
    emergency_because: ticket.emergencyBecause,
    dig_from: days.from.toISOString(),
    first_day: days.firstDay,
    last_day: days.lastDay,
    begin_by: days.beginBy,
    // An emergency ticket is for the emergency's own dig; the parts that follow are called with notice.
    digs: JSON.stringify(
      digsOf(
        await tasksOf(
          stores,
          isEmergency ? [ticket.workOrderId] : await ordersOf(stores, ticket.workOrderId),
        ),
      ),
    ),
    utilities: JSON.stringify(ticket.utilities.map((name) => ({ name, answer: 'none', answeredAt: null }))),
    author: actor.name,
  });
  await settleTicket(house, stores, actor, recorded);
  return recorded;
}

/** A ticket without a known end may be written down this long after its call (common practice, no source). */
const LATEST_RECORD_DAYS = 90;

/** @throws {Refused} A call in the future or long past, a utility named twice. */
function refuseCall(house: House, ticket: NewTicket): void {
  const refuse = (field: string, detail: string, remedy: string) =>
    ruleBroken('locate-ticket', `#/${field}`, detail, remedy);
  if (liesAhead(house, ticket.calledAt))
    throw refuse('calledAt', 'lies in the future', 'the moment of the call');
  if (Date.parse(ticket.calledAt) < house.clock.now().getTime() - LATEST_RECORD_DAYS * DAY_MS)
    throw refuse('calledAt', `lies more than ${LATEST_RECORD_DAYS} days back`, 'call a new ticket');
  const names = ticket.utilities.map((name) => name.trim().toLowerCase());
  const twice = names.findIndex((name, i) => names.indexOf(name) !== i);
  if (twice >= 0)
    throw refuse(`utilities/${twice}`, `${ticket.utilities[twice]} is named twice`, 'each utility once');
}

/** @throws {Refused} A reason that is none, a dig that can wait. */
function refuseNoEmergency(house: House, order: Row, ticket: NewTicket): void {
  const day = (column: string) => (order[column] === null ? null : String(order[column]));
  const why = noEmergency(
    { because: ticket.emergencyBecause ?? '', notBefore: day('not_before'), wantedBy: day('wanted_by') },
    house.zone.dayOf(new Date(ticket.calledAt)),
  );
  if (why === null) return;
  throw ruleBroken(
    'locate-ticket',
    '#/emergencyBecause',
    `no emergency: ${why}`,
    'what is in danger (life, health, property, a service that is out) and cannot wait for the notice; else leave it out and call with notice',
  );
}

/** @throws {Refused} Notice runs through a year of which the rule lists no holiday. */
function refuseUnlisted(house: House, rule: LocateRule, ticket: NewTicket, { firstDay }: TicketDays): void {
  const years = yearsUnlisted(rule, house.zone.dayOf(new Date(ticket.calledAt)), firstDay);
  if (years.length === 0) return;
  throw ruleBroken(
    'locate-ticket',
    '#/ruleId',
    `its notice counts business days to ${firstDay}, and the rule lists no holiday of ${years.join(' and ')}`,
    'the owner lists them in holidays of the rule, then the call is recorded',
  );
}

/** @throws {Refused} A ticket that has ended, or was called before the one it would replace. */
function refuseOutlived(house: House, ticket: NewTicket, days: TicketDays, old: readonly Row[]): void {
  const refuse = (detail: string, remedy: string) =>
    ruleBroken('locate-ticket', '#/calledAt', detail, remedy);
  const today = house.zone.dayOf(house.clock.now());
  if (days.lastDay !== null && days.lastDay < today)
    throw refuse(`a ticket of that call ended on ${days.lastDay}`, 'call a new ticket');
  const newer = old.find((row) => Date.parse(String(row['called_at'])) > Date.parse(ticket.calledAt));
  if (newer)
    throw refuse(
      `a later call of ${String(newer['called_at'])} is on record`,
      'the ticket in force stays: a call after it',
    );
}

/** What became known of a ticket since the call. */
export interface TicketNews {
  answers: { utility: string; answer: UtilityAnswer; at: string }[];
  marksSeenAt: string | null;
  privateLocatedAt: string | null;
}

/**
 * Answers of utilities, marks seen, private lines located; met when nothing is open any more. Of two that were said of
 * one thing the later by its time counts.
 *
 * @param at When it was said; null: now.
 */
export async function updateTicket(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  news: TicketNews,
  at: string | null = null,
): Promise<Row> {
  const ticket = await stores.rows.lock('locate_ticket', id);
  if (!ticket) throw new Refused({ code: 'not-found', resource: 'locate_ticket', id });
  const order = await stores.rows.get('work_order', String(ticket['work_order_id']));
  await mayWorkOn(house, stores, actor, String(order?.['site_id']), at ?? house.clock.now().toISOString());
  refuseNews(house, ticket, news);
  const utilities = (ticket['utilities'] as UtilityOnTicket[]).map((utility) => {
    const said = news.answers.find((each) => each.utility === utility.name);
    return said && isNews(utility.answeredAt, said.at)
      ? { name: utility.name, answer: said.answer, answeredAt: said.at }
      : utility;
  });
  for (const [i, { utility }] of news.answers.entries())
    if (!utilities.some(({ name }) => name === utility))
      throw ruleBroken(
        'locate-ticket',
        `#/answers/${i}/utility`,
        `${utility} is not on the ticket`,
        utilities.map(({ name }) => name).join(', '),
      );
  const updated =
    (await stores.rows.update('locate_ticket', id, {
      utilities: JSON.stringify(utilities),
      ...(isNews(ticket['marks_seen_at'], news.marksSeenAt)
        ? { marks_seen_at: news.marksSeenAt, marks_seen_by: actor.name }
        : {}),
      ...(isNews(ticket['private_located_at'], news.privateLocatedAt)
        ? { private_located_at: news.privateLocatedAt, private_located_by: actor.name }
        : {}),
    })) ?? ticket;
  await settleTicket(house, stores, actor, updated);
  return updated;
}

/** Whether something said at that moment, null where nothing was, counts more than what stands on record. */
const isNews = (before: unknown, at: string | null): boolean =>
  at !== null && (before === null || before === undefined || Date.parse(String(before)) <= Date.parse(at));

/** @throws {Refused} News of a ticket that was replaced, or of a moment before the call or after now. */
function refuseNews(house: House, ticket: Row, news: TicketNews): void {
  const refuse = (pointer: string, detail: string, remedy: string) =>
    ruleBroken('locate-ticket', pointer, detail, remedy);
  if (ticket['replaced_by_id'] !== null)
    throw refuse(
      '#',
      'the ticket was replaced by a newer one',
      `news of ticket ${String(ticket['replaced_by_id'])}`,
    );
  const called = String(ticket['called_at']);
  const moments: [string, string | null][] = [
    ...news.answers.map(({ at }, i): [string, string] => [`#/answers/${i}/at`, at]),
    ['#/marksSeenAt', news.marksSeenAt],
    ['#/privateLinesLocatedAt', news.privateLocatedAt],
  ];
  for (const [pointer, at] of moments) {
    if (at === null) continue;
    if (Date.parse(at) < Date.parse(called))
      throw refuse(pointer, `${at} lies before the call`, `a moment after ${called}`);
    if (liesAhead(house, at)) throw refuse(pointer, `${at} lies in the future`, 'the moment it happened');
  }
  const named = news.answers.map(({ utility }) => utility);
  const twice = named.findIndex((name, i) => named.indexOf(name) !== i);
  if (twice >= 0)
    throw refuse(`#/answers/${twice}/utility`, `${named[twice]} answers twice`, 'one answer of each');
}

/** What is still open on a ticket, wherever it is dug. */
const openOn = (ticket: Row): string[] =>
  ticketOpen({
    utilities: ticket['utilities'] as UtilityOnTicket[],
    marksSeenAt: ticket['marks_seen_at'] as string | null,
    privateLinesLocated: ticket['private_located_at'] !== null,
    emergency: ticket['emergency_because'] !== null,
  });

/** What still keeps the crew of an order from digging on a ticket: what is open on it, and digs it does not cover. */
export async function openFor(stores: Stores, ticket: Row, orderId: string): Promise<string[]> {
  const open = openOn(ticket);
  for (const dig of digsNotOn(ticket['digs'] as Dig[], await tasksOf(stores, [orderId])))
    open.push(`the ticket was not called for this dig: ${await digText(stores, dig)}`);
  return open;
}

/** A ticket with what still keeps the crew of its own order from digging. */
export const withOpen = async (stores: Stores, ticket: Row): Promise<Row> => ({
  ...ticket,
  open: await openFor(stores, ticket, String(ticket['work_order_id'])),
});

/** Its order, and the parts of its dig, that stand on a route where they cannot be dug. */
export const hinderedDigs = async (house: House, stores: Stores, ticket: Row): Promise<HinderedVisit[]> =>
  hinderedOrders(house, stores, await ordersOf(stores, String(ticket['work_order_id'])));

async function tasksOf(stores: Stores, orderIds: readonly string[]): Promise<Dig[]> {
  const rows = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: 'in', value: orderIds }],
    'position',
  );
  return rows.map((row) => ({
    kind: row['kind'] as TaskKind,
    lineId: row['line_id'] as string | null,
    pitId: row['pit_id'] as string | null,
  }));
}

async function digText(stores: Stores, { kind, lineId, pitId }: Dig): Promise<string> {
  const line = lineId === null ? null : await stores.rows.get('line', lineId);
  const at = line === null ? `pit ${String(pitId)}` : String(line['name']);
  return `${kind.replaceAll('_', ' ')} on ${at}`;
}

/** The order itself, and the parts that follow it. */
async function ordersOf(stores: Stores, orderId: string): Promise<string[]> {
  const chain = await stores.workLife.chainAfter(orderId);
  return [orderId, ...chain.map(({ id }) => String(id))];
}

/** The precondition of the order, and of the parts that follow it without a ticket of their own, says what the ticket says. */
export async function settleTicket(house: House, stores: Stores, actor: Actor, ticket: Row): Promise<void> {
  const begun = await hasBegun(stores, ticket);
  for (const orderId of await ordersOf(stores, String(ticket['work_order_id']))) {
    const isOwn = orderId === ticket['work_order_id'];
    if (!isOwn && (await ticketInForce(stores, orderId)) !== null) continue;
    const open = await openFor(stores, ticket, orderId);
    for (const row of await ticketConditions(stores, orderId))
      await stores.rows.update('precondition', String(row['id']), {
        state: open.length === 0 ? 'met' : 'open',
        met_at: open.length === 0 ? house.clock.now().toISOString() : null,
        met_by: open.length === 0 ? actor.name : null,
        valid_from: ticket['first_day'],
        valid_to: isOwn ? lastStart(ticket, begun) : ticket['last_day'],
        facts: {
          ticketId: ticket['id'],
          number: ticket['number'],
          open: open.length === 0 ? null : open.join('; '),
          caution: PRIVATE_LINES_CAUTION,
          emergency: ticket['emergency_because'],
          silent:
            ticket['emergency_because'] === null
              ? null
              : silentOn(ticket['utilities'] as UtilityOnTicket[]).join(', '),
        },
      });
  }
}

const ticketConditions = (stores: Stores, orderId: string): Promise<Row[]> =>
  stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'kind', is: '=', value: 'locate_ticket' },
    { column: 'state', is: '<>', value: 'waived' },
  ]);

/** The ticket called for an order itself that no newer one replaced. */
export async function ticketInForce(stores: Stores, orderId: string): Promise<Row | null> {
  const [ticket] = await stores.rows.all('locate_ticket', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'replaced_by_id', is: 'null' },
  ]);
  return ticket ?? null;
}

/** The last day on which the ticket's own work may still begin, or go on where it has begun. */
function lastStart(ticket: Row, begun: boolean): string | null {
  const [last, beginBy] = [ticket['last_day'], ticket['begin_by']].map((day) =>
    day === null ? null : String(day),
  );
  if (begun || beginBy == null) return last ?? null;
  return last == null || beginBy < last ? beginBy : last;
}

async function hasBegun(stores: Stores, ticket: Row): Promise<boolean> {
  const attempts = await stores.rows.count('attempt', [
    { column: 'work_order_id', is: '=', value: ticket['work_order_id'] },
    { column: 'started_at', is: '>=', value: ticket['called_at'] },
  ]);
  return attempts > 0;
}

/** Work that began in time has kept its ticket alive: from now on its last day counts. */
export async function keepTicketAlive(stores: Stores, orderId: string): Promise<void> {
  const [ticket] = await stores.rows.all('locate_ticket', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'replaced_by_id', is: 'null' },
    { column: 'begin_by', is: 'not-null' },
  ]);
  if (!ticket) return;
  for (const row of await stores.rows.all('precondition', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'kind', is: '=', value: 'locate_ticket' },
    { column: 'state', is: '=', value: 'met' },
  ]))
    await stores.rows.update('precondition', String(row['id']), { valid_to: ticket['last_day'] });
}
