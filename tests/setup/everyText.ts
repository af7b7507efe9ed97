import type { Pool, PoolClient } from 'pg';

interface Column {
  name: string;
  type: string;
  required: boolean;
}

const COLUMNS = `
  SELECT c.relname AS "table", a.attname AS name, format_type(a.atttypid, NULL) AS type, a.attnotnull AND NOT a.atthasdef AND a.attidentity = '' AS required
    FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
   WHERE n.nspname = 'public' AND c.relkind = 'r' AND c.relname NOT IN ('_prisma_migrations', 'setting') ORDER BY c.relname, a.attnum`;

const VALUES: Record<string, string> = {
  uuid: 'gen_random_uuid()',
  integer: '1',
  bigint: '1',
  smallint: '1',
  'double precision': '1',
  boolean: 'false',
  date: `'2026-01-01'::date + (random() * 20000)::int`,
  'timestamp with time zone': `'2015-01-01T00:00:00Z'`,
  bytea: `decode(md5(random()::text), 'hex')`,
  text: 'md5(random()::text)',
  'text[]': `'{}'`,
  'uuid[]': `'{}'`,
  'double precision[]': `'{}'`,
  jsonb: `'{}'`,
  json: `'{}'`,
};

/** The words in a value of the type; null: no text. */
const planted = (type: string, words: string): string | null => {
  const quoted = `'${words.replaceAll("'", "''")}'`;
  if (type === 'text' || type === 'character varying') return quoted;
  if (type === 'text[]') return `ARRAY['a', ${quoted}]`;
  if (type === 'jsonb') return `jsonb_build_object('said', jsonb_build_array(1, ${quoted}::text))`;
  return null;
};

/**
 * Into every column of every table that can hold a text, or of those asked for: a row with the words in it. References, triggers and what
 * columns ask of one another are put aside, in this database for good; columns of listed words refuse them.
 *
 * @returns Columns that took the words, and those that did not though no list forbids it; as `table.column`.
 */
export async function plantEverywhere(
  pool: Pool,
  words: string,
  isAsked: (table: string, column: string) => boolean = () => true,
): Promise<{ taken: string[]; refused: string[] }> {
  const { rows } = await pool.query<Column & { table: string }>(COLUMNS);
  const tables = new Map<string, Column[]>();
  for (const row of rows) tables.set(row.table, [...(tables.get(row.table) ?? []), row]);
  const taken: string[] = [];
  const refused: string[] = [];
  const client = await pool.connect();
  try {
    const listed = await listedWords(pool);
    await client.query('BEGIN');
    await dropOtherChecks(client);
    await client.query('SET LOCAL session_replication_role = replica');
    for (const [table, columns] of tables)
      for (const column of columns) {
        const value = planted(column.type, words);
        if (value === null || !isAsked(table, column.name)) continue;
        const filled = columns.filter(({ name, required }) => required || name === column.name);
        const values = filled.map(({ name, type }) =>
          name === column.name
            ? value
            : listed.has(`${table}.${name}`)
              ? `'${listed.get(`${table}.${name}`)}'`
              : (VALUES[type] ?? 'NULL'),
        );
        await client.query('SAVEPOINT planting');
        try {
          const names = filled.map(({ name }) => `"${name}"`).join(', ');
          await client.query(`INSERT INTO public."${table}" (${names}) VALUES (${values.join(', ')})`);
          taken.push(`${table}.${column.name}`);
        } catch {
          await client.query('ROLLBACK TO SAVEPOINT planting');
          if (!listed.has(`${table}.${column.name}`)) refused.push(`${table}.${column.name}`);
        }
      }
    await client.query('COMMIT');
  } finally {
    client.release();
  }
  return { taken, refused };
}

async function dropOtherChecks(client: PoolClient): Promise<void> {
  const { rows } = await client.query(
    `SELECT conrelid::regclass::text AS "table", quote_ident(conname) AS name FROM pg_constraint k JOIN pg_namespace n ON n.oid = k.connamespace
      WHERE contype = 'c' AND n.nspname = 'public' AND conname NOT LIKE '%\\_word' AND conislocal AND coninhcount = 0`,
  );
  for (const { table, name } of rows) await client.query(`ALTER TABLE ${table} DROP CONSTRAINT ${name}`);
}

/** The first word of each column that takes listed words only. */
async function listedWords(pool: Pool): Promise<Map<string, string>> {
  const { rows } = await pool.query(
    `SELECT k.conrelid::regclass::text AS "table", a.attname AS name, pg_get_constraintdef(k.oid) AS text
       FROM pg_constraint k JOIN pg_attribute a ON a.attrelid = k.conrelid AND a.attnum = k.conkey[1] WHERE k.conname LIKE '%\\_word'`,
  );
  return new Map(
    rows.map(({ table, name, text }) => [
      `${String(table).replaceAll('"', '').replace('public.', '')}.${String(name)}`,
      /'([a-z_]+)'/.exec(String(text))?.[1] ?? '',
    ]),
  );
}

/** Every table of the database, whatever its schema, with rows in which the pattern is found anywhere. */
export async function tablesHolding(pool: Pool, pattern: string): Promise<string[]> {
  const { rows: tables } = await pool.query(
    `SELECT quote_ident(n.nspname) || '.' || quote_ident(c.relname) AS name FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      WHERE c.relkind IN ('r', 'm') AND n.nspname NOT IN ('pg_catalog', 'information_schema', 'pg_toast') ORDER BY 1`,
  );
  const holding: string[] = [];
  for (const { name } of tables) {
    const { rows } = await pool.query(`SELECT count(*)::int AS n FROM ${name} t WHERE t::text ~* $1`, [
      pattern,
    ]);
    if (rows[0].n > 0) holding.push(`${name}: ${rows[0].n}`);
  }
  return holding;
}
