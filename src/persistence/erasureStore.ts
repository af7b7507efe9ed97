import type { ErasureStore } from '../actions/erasure/erasureStore.js';
import type { Row } from '../actions/ports.js';
import type { Queryable } from './rowStore.js';

/** Leaf tables only: a row of a partition lies in the partition. Columns that take listed words alone hold nobody. */
const TEXT_TABLES = `
  SELECT c.relname AS "table",
         array_agg(a.attname::text ORDER BY a.attnum) FILTER (WHERE a.atttypid IN ('text'::regtype, 'varchar'::regtype, 'text[]'::regtype, 'json'::regtype, 'jsonb'::regtype)
           AND NOT EXISTS (SELECT FROM pg_constraint k WHERE k.conrelid = c.oid AND k.conname LIKE '%\\_word' AND k.conkey = ARRAY[a.attnum])) AS columns,
         coalesce(array_agg(a.attname::text) FILTER (WHERE a.attname IN ('site_id', 'client_id', 'work_order_id', 'line_id', 'pit_id', 'happened_at', 'withdrawn_at') OR (c.relname = 'incident' AND a.attname = 'kind')), '{}') AS refs,
         bool_or(a.attname = 'id') AS has_id
    FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
    JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
   WHERE n.nspname = 'public' AND c.relkind = 'r' AND c.relname <> '_prisma_migrations'
   GROUP BY c.oid, c.relname ORDER BY c.relname`;

const quoted = (name: string): string => `"${name.replaceAll('"', '""')}"`;

/** Whoever else is on the books by a name. */
const PEOPLE = `
  SELECT id, name, NULL::text AS phone, NULL::text AS email FROM access_key WHERE revoked_at IS NULL
  UNION ALL SELECT id, name, phone, email FROM client
  UNION ALL SELECT id, name, phone, email FROM contact
  UNION ALL SELECT id, name, phone, email FROM member`;

export function makeErasureStore(q: Queryable): ErasureStore {
  return {
    async textTables() {
      const { rows } = await q.query(TEXT_TABLES);
      return rows.flatMap((row) =>
        row['columns'] === null
          ? []
          : [
              {
                table: String(row['table']),
                columns: row['columns'] as string[],
                refs: row['refs'] as string[],
                hasId: row['has_id'] === true,
              },
            ],
      );
    },

    async find({ table, columns, refs, hasId }, pattern, lock) {
      const names = columns.map(quoted);
      const about = refs.flatMap((ref) => [`'${ref}'`, `${quoted(ref)}::text`]).join(', ');
      const { rows } = await q.query(
        `SELECT ctid::text AS found_place, ${hasId ? 'id::text' : 'NULL::text'} AS found_id, jsonb_build_object(${about}) AS found_refs, ${names.join(', ')} FROM public.${quoted(table)}
          WHERE ${names.map((name) => `${name}::text ~* $1`).join(' OR ')}${lock ? ' FOR UPDATE' : ''}`,
        [pattern],
      );
      return rows.map(({ found_place: place, found_id: id, found_refs: refs, ...values }) => ({
        table,
        place: String(place),
        id: id === null ? null : String(id),
        refs: refs as Row,
        values,
      }));
    },

    async forgetMails(contactIds) {
      await q.query('DELETE FROM unsubscribe_link WHERE contact_id = ANY ($1)', [contactIds]);
      await q.query(
        'UPDATE mail SET last_error = NULL, message_id = NULL WHERE contact_id = ANY ($1) AND (last_error IS NOT NULL OR message_id IS NOT NULL)',
        [contactIds],
      );
      const { rowCount } = await q.query(
        `UPDATE mail SET state = 'dropped', next_try_at = NULL, lease_until = NULL, dropped_because = 'the contact was erased'
          WHERE contact_id = ANY ($1) AND state = 'waiting'`,
        [contactIds],
      );
      return rowCount ?? 0;
    },

    async overwrite({ table, place }, change) {
      const columns = Object.keys(change);
      const sets = columns.map((column) => `${quoted(column)} = r.${quoted(column)}`);
      await q.query(
        `UPDATE public.${quoted(table)} t SET ${sets.join(', ')}
           FROM jsonb_populate_record(NULL::public.${quoted(table)}, $2::jsonb) r WHERE t.ctid = $1::tid`,
        [place, JSON.stringify(change)],
      );
    },

    async copies(ids) {
      const { rows } = await q.query(
        `SELECT 'conflict' AS "table", ctid::text AS place, content::jsonb AS content, true AS "isOwn" FROM conflict WHERE resource_id = ANY ($1::uuid[])
         UNION ALL
         SELECT 'idempotency_key', ctid::text, body::jsonb, false FROM idempotency_key
          WHERE body LIKE ANY (SELECT '%' || x || '%' FROM unnest($1::text[]) x)`,
        [ids],
      );
      return rows as unknown as Awaited<ReturnType<ErasureStore['copies']>>;
    },

    async rewriteCopy({ table, place }, content) {
      const column = table === 'conflict' ? 'content' : 'body';
      await q.query(`UPDATE ${table} SET ${column} = $2 WHERE ctid = $1::tid`, [
        place,
        JSON.stringify(content),
      ]);
    },

    async mayTouchFindings() {
      await q.query(
        `SELECT set_config('app.erasing', 'yes', true), set_config('statement_timeout', '0', true)`,
      );
    },

    async peopleLike(pattern, exceptIds) {
      const { rows } = await q.query(
        `SELECT DISTINCT name FROM (${PEOPLE}) p WHERE name ~* $1 AND NOT id = ANY ($2::uuid[])`,
        [pattern, exceptIds],
      );
      return rows.map((row) => String(row['name']));
    },

    async sharedReach(digits, emails, exceptIds) {
      const { rows } = await q.query(
        `SELECT DISTINCT right(regexp_replace(coalesce(p.phone, ''), '\\D', '', 'g'), 10) AS digits, lower(p.email) AS email FROM (${PEOPLE}) p
          WHERE NOT p.id = ANY ($3::uuid[])
            AND (right(regexp_replace(coalesce(p.phone, ''), '\\D', '', 'g'), 10) = ANY ($1::text[]) OR lower(p.email) = ANY ($2::text[]))`,
        [digits, emails, exceptIds],
      );
      const held = (column: string, asked: readonly string[]) => [
        ...new Set(rows.map((row) => String(row[column])).filter((value) => asked.includes(value))),
      ];
      return { digits: held('digits', digits), emails: held('email', emails) };
    },
  };
}
