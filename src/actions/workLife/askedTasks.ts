import type { TaskKind } from '../../domain/words.js';
import { askedTask } from '../../domain/work/askedTask.js';
import { digMinutes, digQuantities } from '../../domain/work/digPlan.js';
import { BY_CAMERA } from '../../domain/work/lineStops.js';
import type { PlannedTask } from '../../domain/work/visitTasks.js';
import { heldPipes } from '../heldPipes.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import { digFacts, tracedRun } from './digFacts.js';
import { stopIn } from './hardStops.js';
import { enteredTasks, pointsOf, reachByKit } from './reach.js';
import { type Believed, jetMeans, visitLines } from './visitLine.js';

/** A look into a line where something stopped is one by camera. */
async function byCamera(stores: Stores, task: PlannedTask): Promise<PlannedTask> {
  const { kind, lineId, plan } = task;
  if (kind !== 'inspect' || lineId === null || (await stopIn(stores, lineId)) === null) return task;
  return { ...task, plan: { ...plan, ...BY_CAMERA } };
}

/** Tasks somebody asked for, each as the service itself would plan it: how to jet, from where, minutes and water. */
export async function askedTasks(
  stores: Stores,
  asked: readonly { kind: TaskKind; lineId: string | null; pitId: string | null }[],
  believed?: Believed,
): Promise<PlannedTask[]> {
  const lineIds = [...new Set(asked.flatMap(({ lineId }) => lineId ?? []))];
  const lines = await visitLines(stores, lineIds, believed);
  const means = await jetMeans(stores, await ownerSettings(stores));
  const planned: PlannedTask[] = [];
  for (const { kind, lineId, pitId } of asked) {
    const task = askedTask(kind, lines.get(lineId ?? '') ?? null, pitId, means);
    planned.push(kind === 'dig_and_replace' ? await dug(stores, task) : task);
  }
  const lengths = [...lines.values()].map(({ lineId, lengthM }) => ({ id: lineId, length_m: lengthM }));
  const looked: PlannedTask[] = [];
  for (const task of planned) looked.push(await byCamera(stores, task));
  return enteredTasks(lengths, looked, await pointsOf(stores, lineIds), await reachByKit(stores)).tasks;
}

/** A dig with its metres, trench, pipe and stone, by the last trace of the line. */
async function dug(stores: Stores, task: PlannedTask): Promise<PlannedTask> {
  const line = await stores.rows.get('line', String(task.lineId));
  if (!line) return task;
  const run = await tracedRun(stores, String(line['id']));
  const plan = digQuantities({ ...digFacts(line, await heldPipes(stores)), ...run });
  return { ...task, minutes: digMinutes(plan.runM), plan: { ...plan } };
}
