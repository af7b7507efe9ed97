import { v7 as newId } from 'uuid';
import type { House, Stores } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { addDays } from '../domain/calendar/isoDate.js';
import type { KitKind, TaskKind } from '../domain/words.js';
import type { DemoVisit } from './demoVisits.js';

const DAY_MS = 86_400_000;
/** An order is made, and its day told, so long before. */
const ORDERED_DAYS_BEFORE = 9;
const TOLD_DAYS_BEFORE = 3;
const KIT: Partial<Record<TaskKind, KitKind>> = {
  jet: 'jetter',
  hose_flush: 'hose',
  cable: 'cable_machine',
  inspect: 'camera',
  trace: 'tracer',
  clear_outlet: 'hand_tools',
  clear_pit: 'hand_tools',
};
const PUMP_RESTORED = { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true };

/** Ids of what the base calls otherwise. */
export interface DemoIds {
  site: ReadonlyMap<string, string>;
  line: ReadonlyMap<string, string>;
  crew: ReadonlyMap<string, string>;
}

const idIn = (ids: ReadonlyMap<string, string>, ref: string): string => {
  const id = ids.get(ref);
  if (!id) throw new RangeError(`the demo names ${ref}, which its file set does not have`);
  return id;
};

/**
 * Puts done orders behind the readings and cleans of the demo's last months: tasks with results, attempts, promises
 * and where the water went; readings and cleans are linked to them.
 */
export async function bringVisits(
  house: Pick<House, 'zone'>,
  stores: Stores,
  visits: readonly DemoVisit[],
  ids: DemoIds,
): Promise<void> {
  const pits = new Map(
    (await stores.rows.all('pit', [])).map((pit) => [String(pit['discharge_line_id']), String(pit['id'])]),
  );
  const members = await crewMembers(stores);
  const orders: Row[] = [];
  const rows: Record<'work_order_task' | 'attempt' | 'water_record' | 'promise', Row[]> = {
    work_order_task: [],
    attempt: [],
    water_record: [],
    promise: [],
  };
  const orderOf = new Map<string, string>();
  const cleanOf = new Map<string, Row>();
  for (const visit of visits) {
    const first = visit.returnsFor === null ? undefined : orders[visit.returnsFor];
    const order = await stores.rows.insert(
      'work_order',
      orderRow(visit, idIn(ids.site, visit.siteId), first),
    );
    orders.push(order);
    const orderId = String(order['id']);
    const crewId = visit.crewId === null ? null : idIn(ids.crew, visit.crewId);
    const author = (crewId !== null && members.get(crewId)) || 'the crew';
    const done = { orderId, crewId, author };
    rows.work_order_task.push(...taskRows(visit, done, ids, pits));
    rows.attempt.push(...attemptRows(visit, done));
    rows.promise.push(...promiseRows(house, visit, orderId));
    if (visit.water !== null) rows.water_record.push(waterRow(visit, visit.water, done));
    for (const { lineId, clean, kind } of visit.tasks) {
      const key = `${visit.day} ${idIn(ids.line, lineId)}`;
      orderOf.set(key, orderId);
      if (clean === null) continue;
      const { passes, cameBack, waterL } = clean;
      cleanOf.set(key, {
        task: kind,
        passes,
        came_back: cameBack,
        water_l: waterL,
        flow_proven: visit.flowProven,
      });
    }
  }
  for (const [table, all] of Object.entries(rows)) await stores.rows.insertMany(table, all);
  await linkFindings(stores, visits[0]?.day, orderOf, cleanOf);
}

async function crewMembers(stores: Stores): Promise<Map<string, string>> {
  const names = new Map(
    (await stores.rows.all('member', [])).map((row) => [String(row['id']), String(row['name'])]),
  );
  const first = new Map<string, string>();
  for (const row of await stores.rows.all('crew_membership', []))
    first.set(String(row['crew_id']), names.get(String(row['member_id'])) ?? 'the crew');
  return first;
}

const daysBefore = (instant: string, days: number): string =>
  new Date(Date.parse(instant) - days * DAY_MS).toISOString();

function orderRow(visit: DemoVisit, siteId: string, first: Row | undefined): Row {
  const { cause, tasks } = visit;
  const kit = [...new Set(tasks.flatMap(({ kind }) => KIT[kind] ?? []))].sort();
  const returned = first === undefined ? {} : { returnsFor: Number(first['number']) };
  const text = first === undefined ? visit.because : `Returns for order ${first['number']}: ${visit.because}`;
  return {
    id: newId(),
    site_id: siteId,
    state: 'done',
    cause,
    wanted_by: addDays(visit.day, cause === 'due' ? 5 : 1),
    kit,
    people: kit.includes('jetter') ? 2 : 1,
    minutes: visit.plannedMinutes,
    water_l: visit.water?.waterL ?? 0,
    sludge_l: visit.water?.sludgeL ?? 0,
    because_of: JSON.stringify([{ code: cause, facts: returned, text }]),
    price_basis: visit.priceBasis,
    price_minor: visit.priceMinor,
    returns_for_id: first?.['id'] ?? null,
    started_at: visit.startedAt,
    done_at: visit.endedAt,
    created_at: daysBefore(visit.startedAt, cause === 'due' ? ORDERED_DAYS_BEFORE : 1),
  };
}

interface Done {
  orderId: string;
  crewId: string | null;
  author: string;
}

const taskRows = (
  visit: DemoVisit,
  { orderId, author }: Done,
  ids: DemoIds,
  pits: ReadonlyMap<string, string>,
): Row[] =>
  visit.tasks
    .map((task) => {
      const lineId = idIn(ids.line, task.lineId);
      const pitId = pits.get(lineId);
      return { ...task, lineId, pitId };
    })
    // A discharge without a pit on record has none to clear.
    .filter(({ atPit, pitId }) => !atPit || pitId !== undefined)
    .map(({ kind, lineId, pitId, atPit, minutes, addedMinor }, i) => ({
      id: newId(),
      work_order_id: orderId,
      position: i + 1,
      kind,
      line_id: atPit ? null : lineId,
      pit_id: atPit ? pitId : null,
      minutes,
      result: 'done',
      done_at: visit.endedAt,
      taken_minutes: minutes,
      added_by: addedMinor === null ? null : author,
      price_minor: addedMinor,
      accepted_by: addedMinor === null ? null : 'the client, on site',
      accepted_at: addedMinor === null ? null : visit.startedAt,
    }));

function attemptRows(visit: DemoVisit, { orderId, crewId, author }: Done): Row[] {
  const attempt = { work_order_id: orderId, crew_id: crewId, author };
  const done: Row = {
    id: newId(),
    ...attempt,
    started_at: visit.startedAt,
    ended_at: visit.endedAt,
    received_at: visit.endedAt,
    result: 'done',
    reason: null,
    pump_restored: visit.tasks.some(({ atPit }) => atPit) ? PUMP_RESTORED : null,
    flow_proven: visit.flowProven,
    billed: visit.priceBasis === 'warranty' || visit.priceBasis === 'goodwill' ? visit.priceBasis : 'yes',
  };
  if (visit.inVainDaysBefore === null) return [done];
  const triedAt = daysBefore(visit.startedAt, visit.inVainDaysBefore);
  const leftAt = new Date(Date.parse(triedAt) + 10 * 60_000).toISOString();
  const inVain = {
    ...done,
    id: newId(),
    started_at: triedAt,
    ended_at: leftAt,
    received_at: leftAt,
    result: 'not_done',
    reason: 'no_one_home',
    pump_restored: null,
    flow_proven: null,
    billed: 'no',
  };
  return [inVain, done];
}

/** The window holds the hour at which the crew came; a day in vain was told too, and ended. */
function promiseRows({ zone }: Pick<House, 'zone'>, visit: DemoVisit, orderId: string): Row[] {
  if (!visit.promised) return [];
  const secondOf = (Date.parse(visit.startedAt) - zone.instantOf(visit.day, 0).getTime()) / 1000;
  const hour = Math.min(21, Math.max(0, Math.floor(secondOf / 3600)));
  const time = (each: number): string => `${String(each).padStart(2, '0')}:00`;
  const promise = (day: string, ended: boolean): Row => ({
    id: newId(),
    work_order_id: orderId,
    day,
    from_time: time(hour),
    to_time: time(hour + 2),
    told_to: 'the client',
    told_at: daysBefore(visit.startedAt, TOLD_DAYS_BEFORE + (visit.inVainDaysBefore ?? 0) * Number(ended)),
    told_by: 'the office',
    told_how: 'phone',
    ended_at: ended ? daysBefore(visit.startedAt, (visit.inVainDaysBefore ?? 0) - 1) : null,
    ended_because: ended ? 'not done: no one home' : null,
  });
  const kept = promise(visit.day, false);
  return visit.inVainDaysBefore === null
    ? [kept]
    : [
        promise(addDays(visit.day, -visit.inVainDaysBefore), true),
        { ...kept, told_at: daysBefore(visit.startedAt, 1) },
      ];
}

const waterRow = (
  visit: DemoVisit,
  { receiver, place, reference, waterL, sludgeL }: NonNullable<DemoVisit['water']>,
  { orderId, author }: Done,
): Row => ({
  id: newId(),
  work_order_id: orderId,
  phase: 'recorded',
  receiver,
  place,
  permit_ref: reference,
  water_l: waterL,
  sludge_l: sludgeL,
  sludge_to: 'depot',
  at: visit.endedAt,
  author,
});

async function linkFindings(
  stores: Stores,
  from: string | undefined,
  orderOf: ReadonlyMap<string, string>,
  cleanOf: ReadonlyMap<string, Row>,
): Promise<void> {
  if (from === undefined) return;
  for (const [table, at] of [
    ['inspection', 'observed_at'],
    ['clean', 'cleaned_at'],
  ] as const) {
    const since = [{ column: at, is: '>=' as const, value: `${from}T00:00:00Z` }];
    for (const row of await stores.rows.all(table, since, at)) {
      const key = `${String(row[at]).slice(0, 10)} ${row['line_id']}`;
      const orderId = orderOf.get(key);
      if (orderId === undefined) continue;
      await stores.rows.update(table, String(row['id']), {
        work_order_id: orderId,
        ...(table === 'clean' ? cleanOf.get(key) : {}),
      });
    }
  }
}
