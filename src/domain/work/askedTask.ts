import type { JetMeans } from '../jetting/orderJet.js';
import { TASK_MINUTES } from '../jetting/siteMinutes.js';
import type { TaskKind } from '../words.js';
import { hoseTask, jetTask, type PlannedTask, type VisitLine } from './visitTasks.js';

/** What a kind of task is done on. */
const ON_PITS: readonly TaskKind[] = ['clear_pit', 'test_pump', 'temporary_pump', 'fit_alarm', 'fit_pump'];
const ON_EITHER: readonly TaskKind[] = ['survey', 'inspect', 'add_cleanout', 'restore'];

export const mayBeOnPit = (kind: TaskKind): boolean => ON_PITS.includes(kind) || ON_EITHER.includes(kind);
export const mayBeOnLine = (kind: TaskKind): boolean => !ON_PITS.includes(kind);

/**
 * A task somebody asked for, with the plan, minutes, water and sludge that the same task would have in a visit the
 * service plans: by the line's length, bore and occlusion where it is a clean.
 */
export function askedTask(
  kind: TaskKind,
  line: VisitLine | null,
  pitId: string | null,
  means: JetMeans,
): PlannedTask {
  if (line && kind === 'jet') return jetTask(line, means);
  if (line && kind === 'hose_flush') return hoseTask(line);
  return {
    kind,
    lineId: line?.lineId ?? null,
    pitId,
    minutes: TASK_MINUTES[kind],
    waterL: 0,
    sludgeL: 0,
    plan: {},
  };
}
