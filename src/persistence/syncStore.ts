import type { Savepoints, SyncStore } from '../actions/sync/syncStore.js';
import type { Queryable } from './rowStore.js';

/** The first of the items that wait since before a moment for one another, and for nothing that came later. */
const CIRCLE = `
  WITH RECURSIVE young AS (
    SELECT id FROM sync_item WHERE state = 'waiting' AND created_at >= $1
    UNION
    SELECT i.id FROM sync_item i JOIN young y ON 'item:' || y.id = ANY (i.waits_for) WHERE i.state = 'waiting')
  SELECT i.* FROM sync_item i WHERE i.state = 'waiting' AND i.id NOT IN (SELECT id FROM young)
   ORDER BY i.happened_at, i.id LIMIT 1 FOR UPDATE OF i`;

export function makeSyncStore(q: Queryable): SyncStore {
  return {
    async keep(rows) {
      const sorted = [...rows].sort((a, b) => (String(a['id']) < String(b['id']) ? -1 : 1));
      const { rows: kept } = await q.query(
        `INSERT INTO sync_item (id, kind, author, author_id, key_id, member_id, roles, happened_at, clock_offset_s, work_order_id, after_ids, fingerprint, content, work, created_at)
         SELECT r.id, r.kind, r.author, r.author_id, r.key_id, r.member_id, r.roles, r.happened_at, r.clock_offset_s, r.work_order_id, r.after_ids, r.fingerprint, r.content, r.work, r.created_at
           FROM jsonb_populate_recordset(NULL::public.sync_item, $1::jsonb) r
         ON CONFLICT (id) DO NOTHING RETURNING id`,
        [JSON.stringify(sorted)],
      );
      return new Set(kept.map(({ id }) => String(id)));
    },

    async keepRefused(rows) {
      await q.query(
        `INSERT INTO sync_item (id, kind, state, author, author_id, key_id, member_id, roles, happened_at, clock_offset_s, work_order_id, after_ids, fingerprint, content, work, problem, settled_at, created_at)
         SELECT DISTINCT ON (r.id) r.id, r.kind, 'refused', r.author, r.author_id, r.key_id, r.member_id, r.roles, r.happened_at, r.clock_offset_s, r.work_order_id, r.after_ids, r.fingerprint, r.content, r.work, r.problem, r.settled_at, r.created_at
           FROM jsonb_populate_recordset(NULL::public.sync_item, $1::jsonb) r ORDER BY r.id
         ON CONFLICT (id) DO UPDATE SET content = excluded.content, problem = excluded.problem, fingerprint = excluded.fingerprint, settled_at = excluded.settled_at
          WHERE sync_item.state = 'refused' AND sync_item.author_id = excluded.author_id`,
        [JSON.stringify(rows)],
      );
    },

    async lock(ids) {
      const { rows } = await q.query('SELECT * FROM sync_item WHERE id = ANY ($1) ORDER BY id FOR UPDATE', [
        ids,
      ]);
      return rows;
    },

    async accept(ids, at) {
      if (ids.length === 0) return;
      await q.query(
        `UPDATE sync_item SET state = 'accepted', problem = NULL, waits_for = '{}', settled_at = $2 WHERE id = ANY ($1)`,
        [ids, at],
      );
    },

    async lockOrders(ids) {
      await q.query('SELECT FROM work_order WHERE id = ANY ($1) ORDER BY id FOR UPDATE', [ids]);
    },

    async settledOf(ids) {
      if (ids.length === 0) return new Set();
      const { rows } = await q.query(
        `SELECT id FROM sync_item WHERE id = ANY ($1::uuid[]) AND state NOT IN ('waiting', 'refused')
         UNION SELECT substr(key, 4)::uuid FROM idempotency_key
          WHERE caller = '00000000-0000-0000-0000-000000000000' AND key IN (SELECT 'id:' || x FROM unnest($1::uuid[]) x)`,
        [ids],
      );
      return new Set(rows.map(({ id }) => String(id)));
    },

    async startsOf(ids) {
      if (ids.length === 0) return new Map();
      const { rows } = await q.query(
        `SELECT id, work_order_id FROM sync_item WHERE id = ANY ($1::uuid[]) AND kind = 'start' AND state = 'accepted'`,
        [ids],
      );
      return new Map(rows.map((row) => [String(row['id']), String(row['work_order_id'])]));
    },

    async priceOf(taskId) {
      const { rows } = await q.query(
        `SELECT work->'price'->>'by' AS by, work->'price'->>'acceptedAt' AS at, coalesce((work->'price'->>'declined')::boolean, false) AS declined FROM sync_item p
          WHERE kind = 'price_acceptance' AND state IN ('waiting', 'accepted')
            AND (work->'price'->>'taskId' = $1 OR (work->'price'->>'taskId' IS NULL AND EXISTS (
              SELECT FROM sync_item f, LATERAL (SELECT count(*) AS n, sum((k->>'priceMinor')::bigint) AS sum FROM jsonb_array_elements(f.work->'found'->'tasks') k WHERE (k->>'priceMinor')::bigint > 0) prices
               WHERE f.id = ANY (p.after_ids) AND f.kind = 'found_work' AND f.work_order_id = p.work_order_id
                 AND f.work->'found'->'tasks' @> jsonb_build_array(jsonb_build_object('id', $1::text))
                 AND (prices.n = 1 OR prices.sum = (p.work->'price'->>'amountMinor')::bigint))))
          ORDER BY happened_at DESC, declined DESC, id DESC LIMIT 1`,
        [taskId],
      );
      const [row] = rows;
      return row
        ? { by: String(row['by']), at: String(row['at']), declined: row['declined'] === true }
        : null;
    },

    async foundAmong(ids) {
      if (ids.length === 0) return [];
      const { rows } = await q.query(
        `SELECT state, (SELECT coalesce(jsonb_agg(jsonb_build_object('id', k->>'id', 'priceMinor', (k->>'priceMinor')::bigint)), '[]')
                          FROM jsonb_array_elements(coalesce(work->'found'->'tasks', '[]')) k WHERE (k->>'priceMinor')::bigint > 0) AS tasks
           FROM sync_item WHERE id = ANY ($1::uuid[]) AND kind = 'found_work' AND work->'found'->>'accepted' IS NULL AND work->'found'->>'declined' IS NULL ORDER BY id`,
        [ids],
      );
      return rows as Awaited<ReturnType<SyncStore['foundAmong']>>;
    },

    async waitingCount(authorId) {
      const { rows } = await q.query(
        `SELECT count(*)::int AS n FROM sync_item WHERE state = 'waiting' AND author_id = $1`,
        [authorId],
      );
      return Number(rows[0]?.['n']);
    },

    async waitingSince(before) {
      const { rows } = await q.query(
        `SELECT DISTINCT ON (author_id) author, id, happened_at AS "happenedAt", (count(*) OVER (PARTITION BY author_id))::int AS items
           FROM sync_item WHERE state = 'waiting' AND happened_at < $1 ORDER BY author_id, happened_at, id`,
        [before],
      );
      return rows as Awaited<ReturnType<SyncStore['waitingSince']>>;
    },

    async waitedSince(before) {
      const { rows } = await q.query(
        `SELECT i.* FROM sync_item i
          WHERE i.state = 'waiting' AND i.created_at < $1 AND NOT EXISTS (
            SELECT FROM sync_item w WHERE w.state = 'waiting' AND w.id <> i.id AND 'item:' || w.id = ANY (i.waits_for))
          ORDER BY i.happened_at, i.id FOR UPDATE OF i`,
        [before],
      );
      if (rows.length > 0) return rows;
      const { rows: circle } = await q.query(CIRCLE, [before]);
      return circle;
    },

    async refuse(ids, problem, at) {
      await q.query(
        `UPDATE sync_item SET state = 'refused', problem = $2, waits_for = '{}', settled_at = $3 WHERE id = ANY ($1)`,
        [ids, JSON.stringify(problem), at],
      );
    },

    async forgetRefused(authorId, most) {
      await q.query(
        `DELETE FROM sync_item WHERE id IN (
           SELECT id FROM sync_item WHERE state = 'refused' AND author_id = $1 ORDER BY created_at, id OFFSET $2)`,
        [authorId, most],
      );
    },

    async forgetContents(days) {
      const { rowCount } = await q.query(
        `UPDATE sync_item i SET content = '{}', work = '{}'
          WHERE i.settled_at < business_now() - make_interval(days => $1) AND i.content <> '{}'
            AND NOT EXISTS (SELECT FROM conflict k WHERE k.id = i.id AND k.settled_at IS NULL)
            AND NOT EXISTS (SELECT FROM work_order o WHERE o.id = i.work_order_id AND o.state IN ('wanted', 'placed', 'under_way'))`,
        [days],
      );
      return rowCount ?? 0;
    },

    async waitingFor(authorId, among) {
      if (among !== null) {
        const { rows } = await q.query(
          `WITH own AS (SELECT * FROM sync_item WHERE state = 'waiting' AND author_id = $1 AND (id = ANY ($2) OR waits_for && $3::text[]))
           SELECT * FROM own UNION ALL
           SELECT * FROM sync_item WHERE state = 'waiting' AND id NOT IN (SELECT id FROM own)
              AND work_order_id IN (SELECT work_order_id FROM own WHERE kind IN ('start', 'finish'))`,
          [authorId, among.ids, among.needs],
        );
        return rows;
      }
      const { rows } = await q.query(
        `SELECT * FROM sync_item WHERE state = 'waiting' AND (author_id = $1 OR work_order_id IN
           (SELECT work_order_id FROM sync_item WHERE state = 'waiting' AND author_id = $1))`,
        [authorId],
      );
      return rows;
    },

    async authorsWaitingFor(needs) {
      const { rows } = await q.query(
        `SELECT DISTINCT ON (i.author_id) i.author_id, i.author, i.key_id, i.member_id FROM sync_item i
           LEFT JOIN access_key k ON k.id = i.key_id AND k.revoked_at IS NULL
          WHERE i.state = 'waiting' AND i.waits_for && $1::text[] ORDER BY i.author_id, k.id IS NULL, i.created_at DESC`,
        [needs],
      );
      return rows;
    },
  };
}

export function makeSavepoints(q: Queryable): Savepoints {
  return {
    async within(work) {
      await q.query('SAVEPOINT item');
      try {
        const answer = await work();
        // Checked now, and deferred again for the next one; in one go, as a call has hundreds of items.
        await q.query('SET CONSTRAINTS ALL IMMEDIATE; SET CONSTRAINTS ALL DEFERRED; RELEASE SAVEPOINT item');
        return answer;
      } catch (error) {
        await q.query('ROLLBACK TO SAVEPOINT item');
        throw error;
      }
    },
  };
}
