import pg, { type Pool, type PoolClient } from 'pg';
import type { Row } from '../actions/ports.js';
import { OF_THE_ROW, type RecordKind } from '../actions/records/recordKinds.js';
import type { ColumnType, RecordStore, RecordTable, RowRefused } from '../actions/records/recordStore.js';
import { CLASHES, RULES } from './constraintWords.js';
import { type CopyValue, copyIn } from './copy.js';
import type { Queryable } from './rowStore.js';
import { inSnapshot } from './transaction.js';

const COLUMNS = `
  SELECT c.relname AS "table", a.attname AS name, format_type(a.atttypid, NULL) AS type, NOT a.attnotnull AS "isNullable", a.atthasdef AS "hasDefault",
         EXISTS (SELECT FROM pg_constraint k WHERE k.conrelid = c.oid AND k.contype = 'p' AND a.attnum = ANY (k.conkey)) AS "isKey",
         (SELECT pg_get_constraintdef(k.oid) FROM pg_constraint k WHERE k.conrelid = c.oid AND k.conname LIKE '%\\_word' AND k.conkey = ARRAY[a.attnum] LIMIT 1) AS words,
         (SELECT f.relname FROM pg_constraint k JOIN pg_class f ON f.oid = k.confrelid WHERE k.conrelid = c.oid AND k.contype = 'f' AND k.conkey = ARRAY[a.attnum] LIMIT 1) AS "refersTo"
    FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
    JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
   WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p') AND NOT c.relispartition AND c.relname <> '_prisma_migrations'
   ORDER BY c.relname, a.attnum`;

const TYPES: Readonly<Record<string, ColumnType>> = {
  uuid: 'uuid',
  text: 'text',
  integer: 'integer',
  bigint: 'integer',
  smallint: 'integer',
  'double precision': 'number',
  boolean: 'boolean',
  date: 'day',
  'timestamp with time zone': 'instant',
  json: 'json',
  jsonb: 'json',
  'text[]': 'texts',
  'uuid[]': 'uuids',
  'double precision[]': 'numbers',
};

const quoted = (name: string): string => pg.escapeIdentifier(name);

async function tablesOf(q: Queryable): Promise<RecordTable[]> {
  const { rows } = await q.query(COLUMNS);
  const tables = new Map<string, RecordTable>();
  for (const row of rows) {
    const table = String(row['table']);
    const type = TYPES[String(row['type'])];
    const known = tables.get(table) ?? { table, columns: [] };
    tables.set(table, known);
    if (type === undefined) continue;
    known.columns.push({
      name: String(row['name']),
      type,
      isKey: row['isKey'] === true,
      isNullable: row['isNullable'] === true,
      hasDefault: row['hasDefault'] === true,
      words: row['words'] === null ? null : wordsIn(String(row['words'])),
      refersTo: row['refersTo'] === null ? null : String(row['refersTo']),
    });
  }
  return [...tables.values()];
}

const wordsIn = (check: string): string[] =>
  [...check.matchAll(/'((?:[^']|'')*)'/g)].map(([, word = '']) => word.replaceAll("''", "'"));

const ROWS_AT_ONCE = 2000;

/**
 * Every row of the kinds, all as of one instant, in the order of their keys. Instants come in UTC, days and lists as
 * JSON has them.
 */
export async function readRecords(
  pool: Pool,
  kinds: readonly RecordKind[],
  /** Called with each kind's rows some at a time, the last time with none. */
  take: (kind: RecordKind, table: RecordTable, rows: readonly Row[]) => Promise<void>,
): Promise<void> {
  await inSnapshot(pool, async (client) => {
    await client.query(`SET LOCAL TIME ZONE 'UTC'`);
    const tables = await tablesOf(client);
    for (const kind of kinds) {
      const table = tables.find((each) => each.table === kind.table);
      if (!table) throw new RangeError(`there is no table ${kind.table}`);
      const key = table.columns.filter(({ isKey }) => isKey).map(({ name }) => quoted(name));
      await client.query(
        `DECLARE every_row NO SCROLL CURSOR FOR SELECT to_jsonb(t) AS row FROM public.${quoted(table.table)} t ORDER BY ${key.join(', ')}`,
      );
      for (let isMore = true; isMore; ) {
        const { rows } = await client.query(`FETCH ${ROWS_AT_ONCE} FROM every_row`);
        await take(
          kind,
          table,
          rows.map(({ row }) => row as Row),
        );
        isMore = rows.length === ROWS_AT_ONCE;
      }
      await client.query('CLOSE every_row');
    }
  });
}

export function makeRecordStore(q: Queryable): RecordStore {
  // Written inside a transaction only: its one connection.
  const client = q as unknown as PoolClient;
  const brought = (table: string) => quoted(`brought_${table}`);
  return {
    tables: () => tablesOf(q),

    async bring({ table, columns }, rows, later) {
      if (rows.length === 0) return { fresh: 0 };
      const here = columns.filter(({ name }) => rows.some((row) => row[name] !== undefined));
      const names = here.map(({ name }) => name);
      const key = columns.filter(({ isKey }) => isKey).map(({ name }) => quoted(name));
      await q.query(
        `CREATE TEMP TABLE ${brought(table)} (LIKE public.${quoted(table)} INCLUDING DEFAULTS) ON COMMIT DROP`,
      );
      return refusable(async () => {
        await copyIn(client, `brought_${table}`, names, valuesOf(here, rows), 'pg_temp');
        const same = key.map((name) => `n.${name} = t.${name}`).join(' AND ');
        await q.query(
          `DELETE FROM pg_temp.${brought(table)} n USING public.${quoted(table)} t WHERE ${same}`,
        );
        const all = columns.map(({ name }) => name).filter((name) => !OF_THE_ROW.has(name));
        const into = all
          .filter((name) => !later.includes(name))
          .map(quoted)
          .join(', ');
        const { rowCount } = await q.query(
          `INSERT INTO public.${quoted(table)} (${into}) SELECT ${into} FROM pg_temp.${brought(table)}`,
        );
        for (const { name, type, hasDefault } of columns)
          if (type === 'integer' && hasDefault && !OF_THE_ROW.has(name)) await countOn(q, table, name);
        return { fresh: rowCount ?? 0 };
      });
    },

    async link({ table, columns }, later) {
      const key = columns.filter(({ isKey }) => isKey).map(({ name }) => quoted(name));
      const sets = later.map((name) => `${quoted(name)} = n.${quoted(name)}`).join(', ');
      const some = later.map((name) => `n.${quoted(name)} IS NOT NULL`).join(' OR ');
      const done = await refusable(async () => {
        await q.query(
          `UPDATE public.${quoted(table)} t SET ${sets} FROM pg_temp.${brought(table)} n WHERE ${key.map((name) => `n.${name} = t.${name}`).join(' AND ')} AND (${some})`,
        );
        return null;
      });
      return done;
    },

    settle: () =>
      refusable(async () => {
        await q.query('SET CONSTRAINTS ALL IMMEDIATE');
        return null;
      }),
  };
}

/** A number that the table counts by itself goes on behind the highest. */
async function countOn(q: Queryable, table: string, column: string): Promise<void> {
  const { rows } = await q.query(`SELECT pg_get_serial_sequence($1, $2) AS sequence`, [
    `public.${quoted(table)}`,
    column,
  ]);
  const sequence = rows[0]?.['sequence'];
  if (typeof sequence === 'string')
    await q.query(
      `SELECT setval($1::regclass, greatest((SELECT coalesce(max(${quoted(column)}), 1) FROM public.${quoted(table)}), nextval($1::regclass)))`,
      [sequence],
    );
}

function* valuesOf(columns: RecordTable['columns'], rows: readonly Row[]): Generator<CopyValue[]> {
  for (const row of rows)
    yield columns.map(({ name, type }) => {
      const value = row[name] ?? null;
      return (type === 'json' && value !== null ? JSON.stringify(value) : value) as CopyValue;
    });
}

/** What the database refuses of rows that are brought in, told by the values that tell the row. */
async function refusable<T>(work: () => Promise<T>): Promise<T | RowRefused> {
  try {
    return await work();
  } catch (error) {
    const told = error instanceof pg.DatabaseError ? error : error instanceof Error ? error.cause : null;
    const refused = told instanceof pg.DatabaseError ? rowRefused(told) : null;
    if (refused === null) throw error;
    return refused;
  }
}

function rowRefused(error: pg.DatabaseError): RowRefused | null {
  const { code = '', constraint = '', detail = '', column } = error;
  const [, columns = '', values = ''] = /Key \(([^)]*)\)=\((.*)\)/.exec(detail) ?? [];
  const names = columns.split(', ').map((name) => name.replaceAll('"', ''));
  const told = values.split(', ');
  const by: Row = columns === '' ? {} : Object.fromEntries(names.map((name, i) => [name, told[i] ?? null]));
  const [, first] = /Failing row contains \(([^,)]*)/.exec(detail) ?? [];
  const ofRow: Row = first === undefined ? {} : { id: first };
  switch (code) {
    case '23503':
      return {
        by,
        column: names[0] ?? null,
        problem: `nothing has the id ${told[0]}`,
        remedy: 'bring in the file of what it points to as well, or empty the cell',
      };
    case '23505':
    case '23P01': {
      const known = CLASHES[constraint];
      return {
        by,
        column: names.at(-1) ?? null,
        problem: known?.detail ?? `another row has the same ${names.join(' and ')}`,
        remedy: known?.remedy ?? 'leave one of them out',
      };
    }
    case '23502':
      return { by: ofRow, column: column ?? null, problem: 'empty', remedy: 'fill it in' };
    case '23514': {
      const known = RULES[constraint];
      return {
        by: ofRow,
        column: null,
        problem: known?.detail ?? `breaks the rule ${constraint}`,
        remedy: known?.remedy ?? 'as the export writes it',
      };
    }
    default:
      // Raised by a rule over several rows; texts and numbers that the type does not take.
      return /^(P0001|22)/.test(code)
        ? { by: ofRow, column: null, problem: error.message, remedy: 'as the export writes it' }
        : null;
  }
}
