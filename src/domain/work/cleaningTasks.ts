import type { TaskKind } from '../words.js';

/** Work that leaves a line or pit clean; a dig does once its last part is closed over a line that was proven. */
export const CLEANING_TASKS: readonly TaskKind[] = [
  'hose_flush',
  'jet',
  'cable',
  'clear_outlet',
  'replace_outlet',
  'clear_pit',
  'dig_and_replace',
];

export const cleans = (task: TaskKind): boolean => CLEANING_TASKS.includes(task);
