import type { TaskKind } from '../../domain/words.js';
import { askedTask } from '../../domain/work/askedTask.js';
import type { PlannedTask } from '../../domain/work/visitTasks.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import { enteredTasks, pointsOf, reachByKit } from './reach.js';
import { jetMeans, visitLines } from './visitLine.js';

/** Tasks somebody asked for, each as the service itself would plan it: how to jet, from where, minutes and water. */
export async function askedTasks(
  stores: Stores,
  asked: readonly { kind: TaskKind; lineId: string | null; pitId: string | null }[],
): Promise<PlannedTask[]> {
  const lineIds = [...new Set(asked.flatMap(({ lineId }) => lineId ?? []))];
  const lines = await visitLines(stores, lineIds);
  const means = await jetMeans(stores, await ownerSettings(stores));
  const planned = asked.map(({ kind, lineId, pitId }) =>
    askedTask(kind, lines.get(lineId ?? '') ?? null, pitId, means),
  );
  const lengths = [...lines.values()].map(({ lineId, lengthM }) => ({ id: lineId, length_m: lengthM }));
  return enteredTasks(lengths, planned, await pointsOf(stores, lineIds), await reachByKit(stores)).tasks;
}
