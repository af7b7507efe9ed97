import { v7 as newId } from 'uuid';
import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { type PlannedTask, planVisit } from '../../domain/work/visitTasks.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { jetMeans, visitLine } from '../workLife/visitLine.js';
import { lastDayOf } from './dueVisits.js';
import { visitConditions } from './visitConditions.js';

/**
 * Orders that the night made and nobody planned, locked, promised or tried yet take the tasks that their lines ask for
 * now, where something was found or done on those since. What stood there before is told among the order's reasons.
 *
 * @returns Number of orders changed.
 */
export async function renewVisits(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
): Promise<number> {
  const orders = await stores.night.visitsWithNews();
  const lines = await stores.night.linesWithTrend(
    day,
    orders.flatMap((order) => order['line_ids'] as string[]),
  );
  const conditions = await visitConditions(house, stores, lines, day, settings);
  const means = await jetMeans(stores, settings);
  let open = orders.length === 0 ? [] : await stores.night.openTasks();
  let renewed = 0;
  for (const { id } of orders) {
    const order = await stores.rows.lock('work_order', String(id));
    if (order?.['state'] !== 'wanted' || order['lock_day'] !== null) continue;
    const old = await stores.rows.all(
      'work_order_task',
      [{ column: 'work_order_id', is: '=', value: id }],
      'position',
    );
    const whole = lines.filter((line) => old.some((task) => task['line_id'] === line['id']));
    const pits = await pitsOf(stores, old);
    const plan = (own: readonly Row[], ownPits: typeof pits) =>
      planVisit(own.map(visitLine), ownPits, settings, means);
    // What another open order does to a line or pit, that of a plug above all, is not done twice: the line is left to it.
    const held = heldElsewhere(
      plan(whole, pits).tasks,
      open.filter((task) => task['work_order_id'] !== id),
    );
    const own = whole.filter((line) => !held.has(String(line['id'])));
    const planned = plan(
      own,
      pits.filter(({ pitId }) => !held.has(pitId)),
    );
    if (planned.tasks.length === 0 || isSame(old, planned.tasks)) continue;
    const { tasks, proposals } = await conditions.entered(own, planned.tasks);
    for (const task of old) await stores.rows.remove('work_order_task', String(task['id']));
    for (const [i, task] of tasks.entries())
      await stores.rows.insert('work_order_task', {
        id: newId(),
        work_order_id: id,
        position: i + 1,
        kind: task.kind,
        line_id: task.lineId,
        pit_id: task.pitId,
        minutes: task.minutes,
        plan: task.plan,
      });
    await stores.rows.update('work_order', String(id), {
      kit: planned.kit,
      people: planned.people,
      minutes: planned.minutes,
      water_l: planned.waterL,
      sludge_l: planned.sludgeL,
      because_of: JSON.stringify([
        ...(order['because_of'] as object[]),
        ...proposals,
        renewal(old, planned.tasks, day),
      ]),
      ...soonerDays(order, own, day),
    });
    open = [
      ...open.filter((task) => task['work_order_id'] !== id),
      ...tasks.map(({ kind, lineId, pitId }) => ({
        work_order_id: id,
        kind,
        line_id: lineId,
        pit_id: pitId,
      })),
    ];
    renewed++;
  }
  return renewed;
}

/** Lines and pits with a planned task that an open order has already. */
function heldElsewhere(planned: readonly PlannedTask[], open: readonly Row[]): ReadonlySet<string> {
  const taken = new Set(open.map((task) => `${task['kind']} ${task['line_id'] ?? task['pit_id']}`));
  return new Set(
    planned.flatMap(({ kind, lineId, pitId }) => {
      const place = lineId ?? pitId;
      return place !== null && taken.has(`${kind} ${place}`) ? [place] : [];
    }),
  );
}

async function pitsOf(stores: Stores, tasks: readonly Row[]) {
  const pits = await stores.rows.all('pit', [
    { column: 'id', is: 'in', value: tasks.flatMap(({ pit_id: pitId }) => pitId ?? []) },
  ]);
  return pits.map((pit) => ({ pitId: String(pit['id']), systemId: String(pit['system_id']) }));
}

/** Minutes apart by less than so much are the same work: a crew's card is not written anew for them (common practice, no source). */
const SAME_MINUTES = 3;

const isSame = (old: readonly Row[], planned: readonly PlannedTask[]): boolean =>
  old.length === planned.length &&
  planned.every((task, i) => {
    const was = old[i] ?? {};
    return (
      was['kind'] === task.kind &&
      was['line_id'] === task.lineId &&
      was['pit_id'] === task.pitId &&
      Math.abs(Number(was['minutes']) - task.minutes) < SAME_MINUTES
    );
  });

function renewal(old: readonly Row[], planned: readonly PlannedTask[], day: IsoDate) {
  const [before, after] = [old.map(({ kind }) => String(kind)), planned.map(({ kind }) => kind)];
  const words = (kinds: readonly string[]) => kinds.map((kind) => kind.replaceAll('_', ' ')).join(', ');
  return {
    code: 'tasks_renewed',
    facts: { on: day, before, after },
    text: `Something was found or done since the order was made, so on ${day} its tasks became: ${words(after)}. Before: ${words(before)}.`,
  };
}

/** A line that is due sooner now brings its visit forward; a later one leaves it where it was told. */
function soonerDays(order: Row, lines: readonly Row[], day: IsoDate): Row {
  // What is late waits as long as it may: news that leave it that do not bring it forward.
  const due = lines.flatMap((line) => lastDayOf(line, dayNumber(day)) ?? []);
  if (due.length === 0 || order['wanted_by'] === null) return {};
  const wanted = Math.max(dayNumber(day), Math.min(...due));
  if (wanted >= dayNumber(String(order['wanted_by']))) return {};
  const notBefore = order['not_before'] === null ? wanted : dayNumber(String(order['not_before']));
  return { wanted_by: isoDate(wanted), not_before: isoDate(Math.min(notBefore, wanted)) };
}
