import { v7 as newId } from 'uuid';
import { daysBetween, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { PreconditionKind, TaskKind, WorkOrderCause } from '../../domain/words.js';
import { BY_CAMERA, goesInFirst } from '../../domain/work/lineStops.js';
import { preconditionsOf } from '../../domain/work/preconditionRules.js';
import { visitOf } from '../../domain/work/visitTasks.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { askedTasks } from './askedTasks.js';
import { type EndsAsking, endsAsking, openDischargePlan, sendsWater } from './dischargePlans.js';
import { stopIn } from './hardStops.js';
import { insertTasks } from './insertTasks.js';

export interface LinkedTask {
  kind: TaskKind;
  lineId: string | null;
  pitId: string | null;
  part: number;
  plan: object;
}

/** An order that follows from another, or from what was found. */
export interface LinkedOrder {
  siteId: string;
  cause: WorkOrderCause;
  becauseOf: { code: string; facts: object; text: string }[];
  tasks: readonly LinkedTask[];
  notBefore: string | null;
  wantedBy: string | null;
  /** Somebody must be there by this instant. */
  respondBy?: string;
  followsId: string | null;
  followsAfterDays: number;
  returnsForId: string | null;
  priceBasis: string;
  waitsFor: readonly PreconditionKind[];
  /** The quote, parts and discharge plan of what it follows cover it too: it waits for `waitsFor` alone. */
  covered?: boolean;
  /** Nobody signed up for it: the client says yes before a crew goes. */
  beyondTerms?: boolean;
}

/** Makes the order with its tasks and what it waits for; tasks already open on the same thing are left out. */
export async function makeLinkedOrder(
  stores: Stores,
  asked: LinkedOrder,
  today: IsoDate,
): Promise<Row | null> {
  const tasks: LinkedTask[] = [];
  for (const task of await cameraFirst(stores, asked.tasks))
    if (!(await isOpen(stores, task))) tasks.push(task);
  if (tasks.length === 0) return null;
  const own = await askedTasks(stores, tasks);
  const planned = own.map((task, i) => ({ ...task, plan: { ...task.plan, ...tasks[i]?.plan } }));
  const visit = visitOf(planned, await ownerSettings(stores));
  const id = newId();
  const order = await stores.rows.insert('work_order', {
    id,
    site_id: asked.siteId,
    cause: asked.cause,
    not_before: asked.notBefore,
    wanted_by: asked.wantedBy,
    respond_by: asked.respondBy ?? null,
    kit: visit.kit,
    people: visit.people,
    minutes: visit.minutes,
    water_l: visit.waterL,
    sludge_l: visit.sludgeL,
    because_of: JSON.stringify(asked.becauseOf),
    price_basis: asked.priceBasis,
    follows_id: asked.followsId,
    follows_after_days: asked.followsAfterDays,
    returns_for_id: asked.returnsForId,
  });
  await insertTasks(
    stores,
    id,
    planned.map((task, i) => ({ ...task, part: tasks[i]?.part ?? 1 })),
  );
  if (asked.covered)
    for (const kind of asked.waitsFor)
      await stores.rows.insert('precondition', { id: newId(), work_order_id: id, kind });
  else await openPreconditions(stores, order, tasks, today, asked.waitsFor, asked.beyondTerms);
  return order;
}

/** Where something stopped hard and nobody looked in since, a camera goes into the line before anything else. */
async function cameraFirst(stores: Stores, asked: readonly LinkedTask[]): Promise<LinkedTask[]> {
  const tasks = [...asked];
  for (const lineId of new Set(asked.flatMap((task) => task.lineId ?? []))) {
    const found = await stopIn(stores, lineId);
    if (found === null || !goesInFirst(tasks, lineId, found.stop)) continue;
    const at = tasks.findIndex((task) => task.kind === 'inspect' && task.lineId === lineId);
    const [own] = at === -1 ? [] : tasks.splice(at, 1);
    tasks.unshift({ kind: 'inspect', lineId, pitId: null, part: 1, plan: { ...own?.plan, ...BY_CAMERA } });
  }
  return tasks;
}

async function isOpen(stores: Stores, { kind, lineId, pitId, part }: LinkedTask): Promise<boolean> {
  const on = lineId === null ? { column: 'pit_id', value: pitId } : { column: 'line_id', value: lineId };
  const rows = await stores.rows.all('work_order_task', [
    { ...on, is: '=' },
    { column: 'kind', is: '=', value: kind },
    { column: 'part', is: '=', value: part },
    { column: 'open', is: '=', value: true },
  ]);
  return rows.length > 0;
}

/** Opens what must be true before a crew goes, once each. */
export async function openPreconditions(
  stores: Stores,
  order: Row,
  tasks: readonly Pick<LinkedTask, 'kind' | 'lineId' | 'pitId'>[],
  today: IsoDate,
  also: readonly PreconditionKind[] = [],
  beyondTerms = false,
): Promise<void> {
  const site = (await stores.rows.get('site', String(order['site_id']))) ?? {};
  const kinds = tasks.map(({ kind }) => kind);
  const flushes = sendsWater(kinds) || kinds.includes('temporary_pump');
  const systems = flushes ? await linesOfSystems(stores, tasks) : [];
  const asking = flushes
    ? (endsAsking(systems) ?? (kinds.includes('dig_and_replace') ? null : pumped(kinds, systems)))
    : null;
  const ruled = preconditionsOf({
    tasks: kinds,
    kit: order['kit'] as string[],
    priceBasis: String(order['price_basis']),
    standingConsent: site['early_visits_ok'] === true,
    beyondTerms,
    builderNotice: site['builder'] != null && isInWarranty(site['built_on'], today),
    endAsks: asking !== null,
  });
  const orderId = String(order['id']);
  for (const kind of new Set([...ruled, ...also]))
    if (kind === 'discharge_plan')
      await openDischargePlan(
        stores,
        orderId,
        asking,
        String(order['created_at']),
        (await ownerSettings(stores)).discharge,
      );
    else await stores.rows.insert('precondition', { id: newId(), work_order_id: orderId, kind });
}

/** Water pumped round a line goes by the standing plan where its outlet asks for nothing. */
const pumped = (kinds: readonly TaskKind[], lines: readonly Row[]): EndsAsking | null =>
  kinds.includes('temporary_pump')
    ? { decide: [], find: [], systemIds: [...new Set(lines.map((line) => String(line['system_id'])))] }
    : null;

/** All lines of the systems worked on: what is flushed upstream comes out at the system's outlet. */
async function linesOfSystems(
  stores: Stores,
  tasks: readonly Pick<LinkedTask, 'lineId' | 'pitId'>[],
): Promise<Row[]> {
  const ids = {
    line: tasks.flatMap(({ lineId }) => lineId ?? []),
    pit: tasks.flatMap(({ pitId }) => pitId ?? []),
  };
  const lines = await stores.rows.all('line', [{ column: 'id', is: 'in', value: ids.line }]);
  const pits = await stores.rows.all('pit', [{ column: 'id', is: 'in', value: ids.pit }]);
  const systems = [...new Set([...lines, ...pits].map((thing) => thing['system_id']))];
  return stores.rows.all('line', [
    { column: 'system_id', is: 'in', value: systems },
    { column: 'archived_on', is: 'null' },
  ]);
}

/** A builder's warranty on drainage is taken as two years where nobody says otherwise (common practice, no source). */
const WARRANTY_YEARS = 2;
const isInWarranty = (builtOn: unknown, today: IsoDate): boolean =>
  typeof builtOn === 'string' && daysBetween(builtOn, today) <= WARRANTY_YEARS * 365;
