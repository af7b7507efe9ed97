import type { PoolClient } from 'pg';
import type { ImportStore } from '../actions/books/importStore.js';
import type { Row } from '../actions/ports.js';
import type { LineKind } from '../domain/words.js';
import { type CopyValue, copyIn } from './copy.js';
import type { Queryable } from './rowStore.js';

const IMPORT_LOCK = 72_707_372;

const SAME_FINDING = {
  inspection: `i.line_id = n.line_id AND i.observed_at = n.observed_at AND i.phase = n.phase AND i.method IS NOT DISTINCT FROM n.method`,
  clean: 'i.line_id = n.line_id AND i.cleaned_at = n.cleaned_at',
};

export function makeImportStore(q: Queryable): ImportStore {
  // Written inside a transaction only: its one connection.
  const client = q as unknown as PoolClient;
  return {
    async takeTurn() {
      const { rows } = await q.query(
        `SELECT pg_try_advisory_xact_lock($1) AS ours, set_config('statement_timeout', '0', true)`,
        [IMPORT_LOCK],
      );
      return rows[0]?.['ours'] === true;
    },

    async known(table, source) {
      const { rows } = await q.query(
        `SELECT external_ref, ${table === 'client' ? 'coalesce(merged_into_id, id)' : 'id'} AS id FROM ${table} WHERE source = $1`,
        [source],
      );
      return new Map(rows.map((row) => [String(row['external_ref']), String(row['id'])]));
    },

    async linesOf(source) {
      const { rows } = await q.query(
        `SELECT l.id, l.site_id, l.system_id, l.kind, CASE WHEN l.source = $1 THEN l.external_ref END AS ref,
                l.assumed, l.archived_on IS NOT NULL AS archived
           FROM line l JOIN site s ON s.id = l.site_id WHERE l.source = $1 OR s.source = $1 ORDER BY l.id`,
        [source],
      );
      return rows.map((row) => ({
        id: String(row['id']),
        siteId: String(row['site_id']),
        systemId: String(row['system_id']),
        kind: row['kind'] as LineKind,
        ref: row['ref'] === null ? null : String(row['ref']),
        assumed: row['assumed'] as string[],
        archived: row['archived'] === true,
      }));
    },

    async pitsOf(source) {
      const { rows } = await q.query(
        `SELECT p.id, p.site_id, p.system_id, p.discharge_line_id
           FROM pit p JOIN site s ON s.id = p.site_id WHERE s.source = $1 AND p.archived_on IS NULL ORDER BY p.id`,
        [source],
      );
      return rows.map((row) => ({
        id: String(row['id']),
        siteId: String(row['site_id']),
        systemId: String(row['system_id']),
        dischargeLineId: row['discharge_line_id'] === null ? null : String(row['discharge_line_id']),
      }));
    },

    async setDischarges(pairs) {
      await q.query(
        `UPDATE pit SET discharge_line_id = n.line_id FROM unnest($1::uuid[], $2::uuid[]) n(pit_id, line_id) WHERE pit.id = n.pit_id`,
        [pairs.map(({ pitId }) => pitId), pairs.map(({ lineId }) => lineId)],
      );
    },

    add: (table, rows) => copyRows(client, table, rows),

    async addUnlessThere(table, rows) {
      const brought = `brought_${table}`;
      await q.query(`CREATE TEMP TABLE ${brought} (LIKE ${table} INCLUDING DEFAULTS) ON COMMIT DROP`);
      await copyRows(client, brought, rows, 'pg_temp');
      const { rowCount } = await q.query(
        `INSERT INTO ${table} SELECT * FROM pg_temp.${brought} n
          WHERE NOT EXISTS (SELECT FROM ${table} i WHERE ${SAME_FINDING[table]}) ON CONFLICT DO NOTHING`,
      );
      return rowCount ?? 0;
    },
  };
}

/** The first row names the columns of all. */
async function copyRows(
  client: PoolClient,
  table: string,
  rows: Iterable<Row>,
  schema?: string,
): Promise<number> {
  const all = rows[Symbol.iterator]();
  const first = all.next();
  if (first.done) return 0;
  const columns = Object.keys(first.value);
  return copyIn(client, table, columns, valuesOf(first.value, all, columns), schema);
}

function* valuesOf(first: Row, rest: Iterator<Row>, columns: readonly string[]): Generator<CopyValue[]> {
  for (let row: Row | undefined = first; row !== undefined; ) {
    const here: Row = row;
    yield columns.map((column) => here[column] as CopyValue);
    const next = rest.next();
    row = next.done ? undefined : next.value;
  }
}
