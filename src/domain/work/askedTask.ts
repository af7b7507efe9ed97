import { TASK_MINUTES } from '../jetting/siteMinutes.js';
import type { TaskKind } from '../words.js';
import { cleanTask, type PlannedTask, type VisitLine } from './visitTasks.js';

/** What a kind of task is done on. */
const ON_PITS: readonly TaskKind[] = ['clear_pit', 'test_pump', 'temporary_pump', 'fit_alarm', 'fit_pump'];
const ON_EITHER: readonly TaskKind[] = ['survey', 'inspect', 'add_cleanout', 'restore'];
const CLEANS: readonly TaskKind[] = ['jet', 'hose_flush'];

export const mayBeOnPit = (kind: TaskKind): boolean => ON_PITS.includes(kind) || ON_EITHER.includes(kind);
export const mayBeOnLine = (kind: TaskKind): boolean => !ON_PITS.includes(kind);

/**
 * A task somebody asked for, with the minutes, water and sludge that the same task would have in a visit the
 * service plans: by the line's length, bore and occlusion where it is a clean.
 */
export function askedTask(kind: TaskKind, line: VisitLine | null, pitId: string | null): PlannedTask {
  if (line && CLEANS.includes(kind)) {
    const planned = cleanTask(line);
    if (planned.kind === kind) return planned;
    return {
      ...planned,
      kind,
      minutes: Math.max(planned.minutes, TASK_MINUTES[kind]),
      plan: { asked: true },
    };
  }
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
