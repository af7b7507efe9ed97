import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { FlowProven, NotDoneReason, TaskKind } from '../../domain/words.js';
import { cleans } from '../../domain/work/cleaningTasks.js';
import { closesTrench, type PartOfDig } from '../../domain/work/digPlan.js';
import { afterNotDone } from '../../domain/work/notDone.js';
import { countsAsTest } from '../../domain/work/pitFaults.js';
import type { Stores } from '../house.js';
import { authorId } from '../mayWorkOn.js';
import type { Actor, Row } from '../ports.js';
import { type AttemptEnd, flowOf, replacedBy, waterWords } from './attemptEnd.js';
import { climb } from './climb.js';
import { makeLinkedOrder } from './linkedOrder.js';
import { openRegime } from './newRegime.js';
import { faultsOfVisit } from './pitLooks.js';
import { replaceRun } from './replaceRun.js';

/** All that follows from work that is done. */
export async function afterDone(
  stores: Stores,
  actor: Actor,
  order: Row,
  end: AttemptEnd,
  day: IsoDate,
): Promise<void> {
  const id = String(order['id']);
  const tasks = await stores.rows.all(
    'work_order_task',
    [{ column: 'work_order_id', is: '=', value: id }],
    'position',
  );
  const attempts = await stores.rows.all(
    'attempt',
    [{ column: 'work_order_id', is: '=', value: id }],
    'started_at',
  );
  const crewId = attempts.at(-1)?.['crew_id'] ?? null;
  for (const task of tasks.filter((each) => each['result'] === 'done')) {
    if (isClean(task)) await keepClean(stores, actor, task, flowOf(end, task, tasks), end, crewId);
    if (task['kind'] === 'test_pump') await keepTest(stores, task, day);
    await keepFitted(stores, task, day);
  }
  for (const [i, said] of (end.replaced ?? []).entries()) {
    const went = replacedBy(said, tasks);
    if ('run' in went)
      await replaceRun(
        stores,
        { ...went.run, lineId: said.lineId, slope: said.slope },
        day,
        `#/replaced/${i}`,
      );
  }
  for (const { kind, line_id: lineId } of tasks.filter((task) => task['result'] === 'done')) {
    const opened = lineId !== null && EXCAVATES.includes(kind as TaskKind);
    if (opened && !end.replaced?.some((run) => run.lineId === lineId))
      await openRegime(stores, String(lineId), day, 'excavation', `order ${String(order['number'])}`);
  }
  if (end.result === 'partly') await returnFor(stores, order, tasks, end, day);
  const lines = new Set(tasks.flatMap((task) => (task['line_id'] === null ? [] : [String(task['line_id'])])));
  for (const lineId of lines) await climb(stores, lineId, { orderId: id, today: day, foundAt: end.endedAt });
}

/** A pump that was tested is due again later; one found dead, or tested against a shut discharge, was not tested. */
async function keepTest(stores: Stores, task: Row, day: IsoDate): Promise<void> {
  const pitId = String(task['pit_id']);
  const discharge = (await stores.rows.get('pit', pitId))?.['discharge_line_id'] ?? null;
  const plugged = discharge === null ? null : await stores.workLife.pluggedNow(String(discharge));
  const dead = await faultsOfVisit(stores, pitId, task['work_order_id']);
  if (countsAsTest(dead, plugged !== null))
    await stores.rows.update('pit', pitId, { last_tested_on: day, due_on: null });
}

/** What was fitted is on record from that day; a repair adds no pump. */
async function keepFitted(stores: Stores, { kind, pit_id: pitId, plan }: Row, day: IsoDate): Promise<void> {
  if (pitId === null) return;
  if (kind === 'fit_pump' && (plan as { repair?: unknown }).repair === undefined)
    await stores.rows.insert('pump', { id: newId(), pit_id: pitId, duty: 'backup', installed_on: day });
  if (kind !== 'fit_alarm') return;
  const pumps = await stores.rows.all('pump', [
    { column: 'pit_id', is: '=', value: pitId },
    { column: 'removed_on', is: 'null' },
  ]);
  for (const { id } of pumps) await stores.rows.update('pump', String(id), { alarm: true });
}

/** Work that opens the ground round a line: what runs in changes, even where no pipe was replaced. */
const EXCAVATES: readonly TaskKind[] = ['dig_and_replace', 'add_cleanout'];

/** A dig counts as a clean once its last part is closed over a line that was proven. */
const isClean = (task: Row): boolean =>
  cleans(task['kind'] as TaskKind) &&
  (task['kind'] !== 'dig_and_replace' || closesTrench('dig_and_replace', task['plan'] as PartOfDig));

/** A clean without a reading is still a clean: a done task that nobody wrote a clean for makes one. */
async function keepClean(
  stores: Stores,
  actor: Actor,
  task: Row,
  flowProven: FlowProven | null,
  end: AttemptEnd,
  crewId: unknown,
): Promise<void> {
  const on = task['line_id'] === null ? 'pit_id' : 'line_id';
  const written = await stores.rows.all('clean', [
    { column: 'work_order_id', is: '=', value: task['work_order_id'] },
    { column: on, is: '=', value: task[on] },
    { column: 'withdrawn_at', is: 'null' },
  ]);
  if (written.length > 0) return;
  await stores.rows.insert('clean', {
    id: newId(),
    [on]: task[on],
    cleaned_at: end.endedAt,
    received_at: end.endedAt,
    author: actor.name,
    author_id: authorId(actor),
    crew_id: crewId,
    work_order_id: task['work_order_id'],
    task: task['kind'],
    flow_proven: flowProven,
    water_went_to: waterWords(end),
  });
}

/** What was left undone, and not declined, returns as an order of its own that says what it returns for. */
async function returnFor(
  stores: Stores,
  order: Row,
  tasks: readonly Row[],
  end: AttemptEnd,
  day: IsoDate,
): Promise<void> {
  const left = tasks.filter(
    (task) => (task['result'] === 'not_done' || task['result'] === 'partly') && task['declined_at'] === null,
  );
  if (left.length === 0) return;
  const reason = (left[0]?.['reason'] as NotDoneReason | null) ?? end.reason ?? 'out_of_time';
  const after = afterNotDone(reason);
  const words = left.map((task) => String(task['kind']).replaceAll('_', ' ')).join(', ');
  await makeLinkedOrder(
    stores,
    {
      siteId: String(order['site_id']),
      cause: 'return_work',
      becauseOf: [
        {
          code: 'left_undone',
          facts: { orderNumber: order['number'], reason },
          text: `left undone on order ${String(order['number'])} (${reason.replaceAll('_', ' ')}): ${words}`,
        },
      ],
      tasks: left.map((task) => ({
        kind: task['kind'] as TaskKind,
        lineId: task['line_id'] === null ? null : String(task['line_id']),
        pitId: task['pit_id'] === null ? null : String(task['pit_id']),
        part: Number(task['part']),
        plan: task['plan'] as object,
      })),
      notBefore: addDays(day, after.againInDays),
      wantedBy: null,
      followsId: null,
      followsAfterDays: 0,
      returnsForId: String(order['id']),
      // Our own want of kit or time costs the client nothing more.
      priceBasis: after.billedWhenPromised === 'yes' ? String(order['price_basis']) : 'goodwill',
      waitsFor: after.opens === null ? [] : [after.opens],
    },
    day,
  );
}
