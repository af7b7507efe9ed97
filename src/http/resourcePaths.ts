import { RESOURCES } from './resources/all.js';

/** Where a table's records are read one by one. */
const PATHS: Record<string, string> = {
  ...Object.fromEntries(RESOURCES.map(({ table, path }) => [table, path])),
  attachment: 'attachments',
  clean: 'cleans',
  inspection: 'inspections',
  note: 'notes',
  phone_call: 'calls',
  route: 'routes',
  work_order: 'work-orders',
};

/** Address of one record; null: it is read as part of something else. */
export const pathOf = (table: string, id: string): string | null =>
  PATHS[table] === undefined ? null : `/v1/${PATHS[table]}/${id}`;
