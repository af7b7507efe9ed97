import { createHash } from 'node:crypto';
import type pg from 'pg';

/** What says when and how often we heard, not what is so. */
const OF_HEARING = new Set([
  'received_at',
  'created_at',
  'updated_at',
  'settled_at',
  'version',
  'number',
  'xact',
  'seq',
  'before_gas',
]);
const NOT_COMPARED = new Set(['change_log', 'access_key', '_prisma_migrations']);
const UUID = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g;

/**
 * Every row of every table of the public schema as text, sorted, without when it was heard of; ids that the service
 * made itself are named after what the row says, so that two databases of one meaning are alike.
 *
 * @param alike Makes the same of what may differ in a written row.
 */
export async function tablesAlike(
  pool: pg.Pool,
  known: ReadonlySet<string>,
  alike: (written: string) => string = (written) => written,
): Promise<Record<string, string[]>> {
  const { rows: tables } = await pool.query<{ name: string }>(
    `SELECT c.relname AS name FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p') AND NOT c.relispartition ORDER BY 1`,
  );
  const all: Record<string, Record<string, unknown>[]> = {};
  for (const { name } of tables.filter(({ name }) => !NOT_COMPARED.has(name)))
    all[name] = (await pool.query(`SELECT to_jsonb(t) AS row FROM ${name} t`)).rows.map(({ row }) => row);
  let names = new Map<string, string>();
  const written = (table: string, row: Record<string, unknown>, own: boolean) =>
    alike(
      `${table} ${JSON.stringify(
        Object.fromEntries(
          Object.entries(row).filter(([key]) => !OF_HEARING.has(key) && (own || key !== 'id')),
        ),
      ).replace(UUID, (id) => (known.has(id) ? id : (names.get(id) ?? 'made')))}`,
    );
  for (let round = 0; round < 4; round++) {
    const next = new Map<string, string>();
    for (const [table, rows] of Object.entries(all))
      for (const row of rows)
        if (typeof row['id'] === 'string' && !known.has(row['id']))
          next.set(
            row['id'],
            createHash('sha256')
              .update(written(table, row, false))
              .digest('hex')
              .slice(0, 12),
          );
    names = next;
  }
  return Object.fromEntries(
    Object.entries(all).map(([table, rows]) => [table, rows.map((row) => written(table, row, true)).sort()]),
  );
}
