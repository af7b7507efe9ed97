import type { Condition, PageAsk, Row, RowStore } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';

/** What a pool and a client in a transaction have in common. */
export interface Queryable {
  query(text: string, values?: unknown[]): Promise<{ rows: Row[]; rowCount: number | null }>;
}

const name = (identifier: string): string => {
  if (!/^[a-z_][a-z0-9_]*$/.test(identifier)) throw new RangeError(`not a column or table: ${identifier}`);
  return `"${identifier}"`;
};

const EARTH_KM = 6371;
const ROWS_PER_STATEMENT = 5_000;

export function makeRowStore(q: Queryable): RowStore {
  const first = async (text: string, values: unknown[]): Promise<Row | null> =>
    (await q.query(text, values)).rows[0] ?? null;

  // The table's own types do the casting: one JSON parameter whatever the number of rows. The schema is
  // named because PostgreSQL has a type of its own called line.
  const insertSome = async (table: string, rows: Row[], skipDoubles: boolean): Promise<number> => {
    const columns = Object.keys(rows[0] ?? {});
    const text =
      `INSERT INTO ${name(table)} (${columns.map(name)}) SELECT ${columns.map((c) => `r.${name(c)}`)} ` +
      `FROM jsonb_populate_recordset(NULL::public.${name(table)}, $1::jsonb) r${skipDoubles ? ' ON CONFLICT DO NOTHING' : ''}`;
    return (await q.query(text, [JSON.stringify(rows)])).rowCount ?? 0;
  };

  return {
    get: (table, id) => first(`SELECT * FROM ${name(table)} WHERE id = $1`, [id]),
    lock: (table, id) => first(`SELECT * FROM ${name(table)} WHERE id = $1 FOR UPDATE`, [id]),

    async insert(table, row) {
      const columns = Object.keys(row);
      const text = `INSERT INTO ${name(table)} (${columns.map(name)}) VALUES (${columns.map((_, i) => `$${i + 1}`)}) RETURNING *`;
      const { rows } = await q.query(
        text,
        columns.map((column) => parameter(column, row[column])),
      );
      return rows[0] ?? {};
    },

    async insertMany(table, rows, options = {}) {
      let inserted = 0;
      for (let at = 0; at < rows.length; at += ROWS_PER_STATEMENT) {
        inserted += await insertSome(
          table,
          rows.slice(at, at + ROWS_PER_STATEMENT),
          options.skipDoubles === true,
        );
      }
      return inserted;
    },

    async update(table, id, change) {
      const columns = Object.keys(change);
      if (columns.length === 0) return first(`SELECT * FROM ${name(table)} WHERE id = $1`, [id]);
      const sets = columns.map((column, i) => `${name(column)} = $${i + 2}`);
      return first(`UPDATE ${name(table)} SET ${sets} WHERE id = $1 RETURNING *`, [
        id,
        ...columns.map((column) => parameter(column, change[column])),
      ]);
    },

    async remove(table, id) {
      return ((await q.query(`DELETE FROM ${name(table)} WHERE id = $1`, [id])).rowCount ?? 0) > 0;
    },

    async page(table, ask) {
      const part = async (of: Part, limit: number) => {
        const { text, values } = pageSql(table, { ...ask, limit }, of);
        return (await q.query(text, values)).rows;
      };
      try {
        if (ask.after && (ask.after.value ?? null) === null) return await part('unknown', ask.limit);
        const known = await part('known', ask.limit);
        if (known.length >= ask.limit || ask.near || ALWAYS_KNOWN.has(ask.sort.column)) return known;
        return [...known, ...(await part('unknown', ask.limit - known.length))];
      } catch (error) {
        // The caller's own filters were checked at the door: what does not fit the column came with the cursor.
        const isOfValue =
          error instanceof Refused && error.problem.code === 'rule-broken' && error.problem.rule === 'value';
        if (ask.after && isOfValue) throw strangeCursor();
        throw error;
      }
    },

    async count(table, where) {
      const values: unknown[] = [];
      const { rows } = await q.query(
        `SELECT count(*)::int AS n FROM ${name(table)}${whereSql(where, values)}`,
        values,
      );
      return Number(rows[0]?.['n'] ?? 0);
    },

    async sum(table, column, where) {
      const values: unknown[] = [];
      const { rows } = await q.query(
        `SELECT coalesce(sum(${name(column)}), 0) AS n FROM ${name(table)}${whereSql(where, values)}`,
        values,
      );
      return Number(rows[0]?.['n'] ?? 0);
    },

    async all(table, where, sort = 'id') {
      const values: unknown[] = [];
      const text = `SELECT * FROM ${name(table)}${whereSql(where, values)} ORDER BY ${name(sort)}`;
      return (await q.query(text, values)).rows;
    },
  };
}

const strangeCursor = () =>
  new Refused({
    code: 'bad-cursor',
    faults: [
      {
        pointer: '#/querystring:cursor',
        detail: 'is none that this list gave out',
        remedy: 'the `next` of the page before, or none for the first page',
      },
    ],
  });

/** Columns of PostgreSQL's own lists. Every other list or object that is written goes into a jsonb column. */
export const LIST_COLUMNS: ReadonlySet<string> = new Set([
  'action_chances',
  'after_ids',
  'assumed',
  'cautions_seen',
  'event_types',
  'holidays',
  'kit',
  'kit_can_enter',
  'line_ids',
  'may_consent_to',
  'roles',
  'tasks',
  'waits_for',
]);

/** The column decides, not the value: an empty list looks the same for both. */
function parameter(column: string, value: unknown): unknown {
  if (value === undefined || value === null) return null;
  const isStructure = typeof value === 'object' && !(value instanceof Date) && !Buffer.isBuffer(value);
  return isStructure && !LIST_COLUMNS.has(column) ? JSON.stringify(value) : value;
}

function whereSql(where: readonly Condition[], values: unknown[]): string {
  const parts = where.map((condition) => conditionSql(condition, values));
  return parts.length > 0 ? ` WHERE ${parts.join(' AND ')}` : '';
}

function conditionSql({ column, is, value }: Condition, values: unknown[]): string {
  const c = name(column);
  if (is === 'null') return `${c} IS NULL`;
  if (is === 'not-null') return `${c} IS NOT NULL`;
  values.push(value);
  const p = `$${values.length}`;
  if (is === 'in') return `${c} = ANY (${p})`;
  if (is === 'contains') return `${p} = ANY (${c})`;
  return `${c} ${is} ${p}`;
}

/** Rows that have a value to be sorted by come first, either way round; those without follow, by id. */
type Part = 'known' | 'unknown';
const ALWAYS_KNOWN: ReadonlySet<string> = new Set([
  'created_at',
  'updated_at',
  'observed_at',
  'cleaned_at',
  'received_at',
  'number',
]);

/**
 * One part of a list, from behind a row on. Sorted as an index of value and id is, read from either end and entered at
 * that row: so a page costs the same wherever it is in the list.
 */
function pageSql(table: string, ask: PageAsk, part: Part): { text: string; values: unknown[] } {
  const values: unknown[] = [];
  const bind = (value: unknown): string => `$${values.push(value)}`;
  const parts = ask.where.map((condition) => conditionSql(condition, values));
  if (ask.search) {
    const haystack = ask.search.columns.map((c) => `coalesce(${name(c)}, '')`).join(` || ' ' || `);
    for (const word of ask.search.text.split(/\s+/).filter(Boolean).slice(0, 8))
      parts.push(`(${haystack}) ILIKE ${bind(`%${word.replace(/[\\%_]/g, (ch) => `\\${ch}`)}%`)}`);
  }
  const descending = ask.sort.descending && !ask.near;
  let key = name(ask.sort.column);
  if (ask.near) {
    const lat = `${bind(ask.near.latitude)}::float8`;
    const lon = `${bind(ask.near.longitude)}::float8`;
    key = `(2 * ${EARTH_KM} * asin(sqrt(least(1, sin(radians(latitude - ${lat}) / 2) ^ 2 + cos(radians(latitude)) * cos(radians(${lat})) * sin(radians(longitude - ${lon}) / 2) ^ 2))))`;
    parts.push('latitude IS NOT NULL');
  }
  parts.push(`${key} IS ${part === 'known' ? 'NOT NULL' : 'NULL'}`);
  if (ask.after) {
    const { value = null, id } = ask.after;
    if (part === 'known') {
      parts.push(`(${key}, id) ${descending ? '<' : '>'} (${bind(value)}, ${bind(id)})`);
    } else if (value === null) parts.push(`id > ${bind(id)}`);
  }
  const distance = ask.near ? `, ${key} AS distance_km` : '';
  const way = descending ? 'DESC' : 'ASC';
  const order = part === 'known' ? `${key} ${way}, id ${way}` : 'id';
  const text =
    `SELECT *${distance} FROM ${name(table)}` +
    ` WHERE ${parts.join(' AND ')} ORDER BY ${order} LIMIT ${bind(ask.limit)}`;
  return { text, values };
}
