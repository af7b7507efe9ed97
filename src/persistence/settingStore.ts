import type { SettingStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';

export function makeSettingStore(q: Queryable): SettingStore {
  return {
    async all() {
      return (await q.query('SELECT name, value, version, changed_by, updated_at FROM setting ORDER BY name'))
        .rows;
    },
    async put(name, value, changedBy) {
      await q.query(
        `INSERT INTO setting (name, value, changed_by) VALUES ($1, $2, $3)
         ON CONFLICT (name) DO UPDATE SET value = excluded.value, changed_by = excluded.changed_by, version = setting.version + 1, updated_at = now()`,
        [name, JSON.stringify(value), changedBy],
      );
    },
    async lock() {
      await q.query('LOCK TABLE setting IN SHARE ROW EXCLUSIVE MODE');
    },
  };
}
