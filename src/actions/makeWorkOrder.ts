import { v7 as newId } from 'uuid';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { KitKind, TaskKind, WorkOrderCause } from '../domain/words.js';
import { mayBeOnLine, mayBeOnPit } from '../domain/work/askedTask.js';
import { opensGround } from '../domain/work/preconditionRules.js';
import { visitOf } from '../domain/work/visitTasks.js';
import type { Stores } from './house.js';
import { ownerSettings } from './ownerSettings.js';
import type { Actor, Row } from './ports.js';
import { type FieldFault, Refused, ruleBroken } from './problems.js';
import { askedTasks } from './workLife/askedTasks.js';
import { stopReasons } from './workLife/hardStops.js';
import { insertTasks } from './workLife/insertTasks.js';
import { openPreconditions } from './workLife/linkedOrder.js';
import { basisOf } from './workLife/priceBasis.js';

/** Work that a person asks for, before the service would. Null: as the service would set it. */
export interface AskedWork {
  siteId: string;
  cause: WorkOrderCause;
  tasks: { kind: TaskKind; lineId: string | null; pitId: string | null; minutes: number | null }[];
  notBefore: string | null;
  wantedBy: string | null;
  respondBy: string | null;
  people: number | null;
  kit: KitKind[] | null;
  priceBasis: string | null;
  priceMinor: number | null;
  followsId: string | null;
  followsAfterDays: number;
  returnsForId: string | null;
  because: string;
  note: string | null;
}

/**
 * One visit to one site with the tasks asked for, and what it waits for: a dig for its locate ticket, quote and parts.
 *
 * @throws {Refused} A line or pit of another site, a task on the wrong thing, dates the wrong way round.
 */
export async function makeWorkOrder(
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  id: string,
  asked: AskedWork,
  today: IsoDate,
): Promise<Row> {
  const site = await stores.rows.get('site', asked.siteId);
  if (!site) throw unknownId('siteId', asked.siteId);
  const onSite = [{ column: 'site_id', is: '=' as const, value: asked.siteId }];
  const lines = new Map((await stores.rows.all('line', onSite)).map((row) => [String(row['id']), row]));
  const pits = new Map((await stores.rows.all('pit', onSite)).map((row) => [String(row['id']), row]));
  refuseMisplaced(asked, lines, pits);
  refusePast(asked, today);
  await refuseForeignOrders(stores, id, asked);

  const planned = await askedTasks(stores, asked.tasks);
  const tasks = planned.map((task, i) => ({ ...task, minutes: asked.tasks[i]?.minutes ?? task.minutes }));
  const visit = visitOf(tasks, await ownerSettings(stores), asked.kit ?? []);
  const order = await stores.rows.insert('work_order', {
    id,
    site_id: asked.siteId,
    cause: asked.cause,
    not_before: asked.notBefore,
    wanted_by: asked.wantedBy,
    respond_by: asked.respondBy,
    // A person may send more than the tasks need, never less.
    kit: visit.kit,
    people: Math.max(visit.people, asked.people ?? 0),
    minutes: visit.minutes,
    water_l: visit.waterL,
    sludge_l: visit.sludgeL,
    because_of: JSON.stringify([
      { code: asked.cause, facts: { askedBy: actor.name }, text: asked.because },
      ...(await stopReasons(stores, tasks)),
    ]),
    price_basis: asked.priceBasis ?? (await usualBasis(stores, asked, today)),
    price_minor: asked.priceMinor,
    follows_id: asked.followsId,
    follows_after_days: asked.followsAfterDays,
    returns_for_id: asked.returnsForId,
    note: asked.note,
  });
  await insertTasks(stores, id, visit.tasks);
  await openPreconditions(stores, order, visit.tasks, today);
  return order;
}

/** Where nobody said what pays for it: a quote where the ground is opened, else as the site's care terms cover it. */
const usualBasis = async (stores: Stores, { siteId, tasks }: AskedWork, today: IsoDate): Promise<string> =>
  opensGround(tasks.map(({ kind }) => kind)) ? 'quote' : basisOf(stores, siteId, tasks, today);

/** Work that no care terms cover, that nobody priced: the client is asked before the crew goes. */
export interface UnpricedWork {
  code: 'nobody_agreed_to_pay';
  facts: { priceBasis: string };
  text: string;
}

/** What to settle with the client about an order made by hand; empty: its price is agreed. */
export function unpriced(order: Row, { priceBasis, priceMinor }: AskedWork): UnpricedWork[] {
  const isSaid = priceBasis !== null || priceMinor !== null;
  if (isSaid || order['price_basis'] !== 'time_and_material') return [];
  return [
    {
      code: 'nobody_agreed_to_pay',
      facts: { priceBasis: 'time_and_material' },
      text: 'no care terms of this site cover the work: it goes by time and material; agree on that or on a price with the client before the crew goes, or give priceBasis quote, and it waits for a yes',
    },
  ];
}

function unknownId(field: string, id: string): Refused {
  return new Refused({
    code: 'unknown-reference',
    faults: [
      {
        pointer: `#/${field}`,
        detail: `nothing there has the id ${id}`,
        remedy: `give the id of an existing record as ${field}`,
      },
    ],
  });
}

function refusePast({ wantedBy, respondBy }: AskedWork, today: IsoDate): void {
  const faults: FieldFault[] = [];
  const past = (field: string, value: string) =>
    faults.push({ pointer: `#/${field}`, detail: `${value} is over`, remedy: `${today} or later` });
  if (wantedBy !== null && wantedBy < today) past('wantedBy', wantedBy);
  if (respondBy !== null && respondBy.slice(0, 10) < today) past('respondBy', respondBy);
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'asked-work', faults });
}

/** What it follows or returns for is another order of the same site. */
async function refuseForeignOrders(stores: Stores, id: string, asked: AskedWork): Promise<void> {
  for (const field of ['followsId', 'returnsForId'] as const) {
    const other = asked[field];
    if (other === null) continue;
    const order = other === id ? null : await stores.rows.get('work_order', other);
    if (order?.['site_id'] !== asked.siteId)
      throw ruleBroken(
        'asked-work',
        `#/${field}`,
        other === id ? 'is the order itself' : `no order ${other} on this site`,
        'another order of the same site',
      );
  }
}

function refuseMisplaced(asked: AskedWork, lines: Map<string, Row>, pits: Map<string, Row>): void {
  const faults: FieldFault[] = [];
  const fault = (field: string, detail: string, remedy: string) =>
    faults.push({ pointer: `#/${field}`, detail, remedy });
  if (asked.notBefore !== null && asked.wantedBy !== null && asked.wantedBy < asked.notBefore)
    fault('wantedBy', 'lies before notBefore', 'a day on or after notBefore');
  for (const [i, { kind, lineId, pitId }] of asked.tasks.entries()) {
    if ((lineId === null) === (pitId === null))
      fault(`tasks/${i}`, 'names neither or both of line and pit', 'one of lineId and pitId');
    if (lineId !== null && !lines.has(lineId))
      fault(`tasks/${i}/lineId`, `no line ${lineId} on this site`, 'a line of the site of the order');
    if (pitId !== null && !pits.has(pitId))
      fault(`tasks/${i}/pitId`, `no pit ${pitId} on this site`, 'a pit of the site of the order');
    if (lineId !== null && !mayBeOnLine(kind))
      fault(`tasks/${i}/kind`, `${kind} is done on a pit`, 'give pitId instead of lineId');
    if (pitId !== null && !mayBeOnPit(kind))
      fault(`tasks/${i}/kind`, `${kind} is done on a line`, 'give lineId instead of pitId');
  }
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'asked-work', faults });
}

/**
 * Changes what may be changed before work begins: columns of the order.
 *
 * @throws {Refused} `wrong-state`, dates the wrong way round, or what `checkVersion` throws.
 */
export async function changeWorkOrder(
  stores: Stores,
  id: string,
  change: Row,
  checkVersion: (version: number) => void,
): Promise<void> {
  const order = await lockNotBegun(stores, id);
  checkVersion(Number(order['version']));
  const { not_before: notBefore, wanted_by: wantedBy } = { ...order, ...change };
  if (notBefore !== null && wantedBy !== null && String(wantedBy) < String(notBefore))
    throw ruleBroken('asked-work', '#/wantedBy', 'lies before notBefore', 'a day on or after notBefore');
  const changed = await stores.rows.update('work_order', id, change);
  await askTicket(stores, changed ?? order);
}

/** An excavator sent along afterwards opens the ground: the order waits for a ticket from then on. */
async function askTicket(stores: Stores, order: Row): Promise<void> {
  if (!opensGround([], order['kit'] as string[])) return;
  const asked = await stores.rows.count('precondition', [
    { column: 'work_order_id', is: '=', value: order['id'] },
    { column: 'kind', is: '=', value: 'locate_ticket' },
  ]);
  if (asked === 0)
    await stores.rows.insert('precondition', {
      id: newId(),
      work_order_id: order['id'],
      kind: 'locate_ticket',
    });
}

async function lockNotBegun(stores: Stores, id: string): Promise<Row> {
  const order = await stores.rows.lock('work_order', id);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id });
  const allowed = ['wanted', 'placed'];
  const state = String(order['state']);
  if (!allowed.includes(state))
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id,
      state,
      allowed,
      detail: 'Only work that has not begun is changed.',
    });
  return order;
}
