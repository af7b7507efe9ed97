import type { ChangePlace, ChangeStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';
import { STANDS } from './stopStands.js';

/**
 * Rows a technician may hear of: the own crew's routes, and everything on the sites of their orders and of the own call-outs. `gone`: what was on
 * a route and is no more, because another took its place or the visit went to another crew; what was tried stays.
 */
const OWN = `
  WITH own_route AS (
    SELECT r.id FROM route r JOIN crew_membership m ON m.crew_id = r.crew_id AND m.from_day <= r.day AND (m.to_day IS NULL OR m.to_day > r.day)
     WHERE m.member_id = $4 AND r.state IN ('live', 'replaced')),
  own_order AS (SELECT DISTINCT o.id, o.site_id FROM stop s JOIN work_order o ON o.id = s.work_order_id WHERE s.route_id IN (SELECT id FROM own_route)
    UNION SELECT o.id, o.site_id FROM call_out c JOIN work_order o ON o.id = c.work_order_id WHERE c.member_id = $4),
  own AS (
    SELECT id FROM own_route
    UNION SELECT s.id FROM stop s WHERE s.route_id IN (SELECT id FROM own_route)
    UNION SELECT p.id FROM route_publication p JOIN crew_membership m ON m.crew_id = p.crew_id AND m.from_day <= p.day AND (m.to_day IS NULL OR m.to_day > p.day) WHERE m.member_id = $4
    UNION SELECT id FROM own_order
    UNION SELECT site_id FROM own_order
    UNION SELECT k.id FROM work_order_task k WHERE k.work_order_id IN (SELECT id FROM own_order)
    UNION SELECT p.id FROM precondition p WHERE p.work_order_id IN (SELECT id FROM own_order)
    UNION SELECT a.id FROM attempt a WHERE a.work_order_id IN (SELECT id FROM own_order)
    UNION SELECT l.id FROM line l WHERE l.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT p.id FROM pit p WHERE p.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT a.id FROM access_point a WHERE a.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT i.id FROM inspection i JOIN line l ON l.id = i.line_id WHERE l.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT c.id FROM clean c JOIN line l ON l.id = c.line_id WHERE l.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT i.id FROM inspection i JOIN pit p ON p.id = i.pit_id WHERE p.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT c.id FROM clean c JOIN pit p ON p.id = c.pit_id WHERE p.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT y.id FROM system y WHERE y.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT c.id FROM contact c WHERE c.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT p.id FROM promise p WHERE p.work_order_id IN (SELECT id FROM own_order)
    UNION SELECT n.id FROM note n WHERE n.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT a.id FROM attachment a WHERE a.site_id IN (SELECT site_id FROM own_order)
    UNION SELECT i.id FROM sync_item i WHERE i.author_id = $4),
  gone AS (
    SELECT r.id FROM route r WHERE r.state = 'replaced' AND r.id IN (SELECT id FROM own_route)
    UNION SELECT st.id FROM stop st JOIN route r ON r.id = st.route_id
     WHERE r.id IN (SELECT id FROM own_route)
       AND (r.state = 'replaced'
            OR NOT ${STANDS}))`;

// A sequence number is taken before its transaction commits: read by number alone, a slow transaction's rows
// would appear behind a reader who is past them. Ordered by transaction, and only below the oldest that still
// runs, nothing can.
const VISIBLE = 'xact < pg_snapshot_xmin(pg_current_snapshot())::text::bigint';

const LIFE = 'SELECT id, gone_xact, gone_seq FROM change_life ORDER BY began_at DESC, id DESC LIMIT 1';

export function makeChangeStore(q: Queryable): ChangeStore {
  return {
    async since(after, limit, memberId) {
      const own = memberId === null ? '' : OWN;
      const op =
        memberId === null
          ? 'op'
          : `CASE WHEN resource IN ('route', 'stop') AND row_id IN (SELECT id FROM gone) THEN 'removed' ELSE op END AS op`;
      const narrowed = memberId === null ? '' : `AND (op = 'removed' OR row_id IN (SELECT id FROM own))`;
      const { rows } = await q.query(
        `${own} SELECT seq::text, xact::text, resource, row_id, ${op}, version, at FROM change_log
          WHERE (xact, seq) > ($1::bigint, $2::bigint) AND ${VISIBLE} ${narrowed}
          ORDER BY xact, seq LIMIT $3`,
        memberId === null ? [after.xact, after.seq, limit] : [after.xact, after.seq, limit, memberId],
      );
      return rows;
    },

    async now() {
      const { rows } = await q.query(
        `SELECT l.id, p.xact::text, p.seq::text FROM (${LIFE}) l, LATERAL (
           (SELECT xact, seq FROM change_log WHERE ${VISIBLE} ORDER BY xact DESC, seq DESC LIMIT 1)
           UNION ALL SELECT l.gone_xact, l.gone_seq ORDER BY xact DESC, seq DESC LIMIT 1) p`,
      );
      return placeOf(rows[0] ?? {}, 'xact', 'seq');
    },

    async life() {
      const { rows } = await q.query(LIFE);
      return placeOf(rows[0] ?? {}, 'gone_xact', 'gone_seq');
    },

    async forgetOld(days) {
      const { rows } = await q.query(
        `WITH gone AS (DELETE FROM change_log WHERE at < now() - make_interval(days => $1) AND ${VISIBLE} RETURNING xact, seq),
              last AS (SELECT xact, seq FROM gone ORDER BY xact DESC, seq DESC LIMIT 1),
              told AS (UPDATE change_life SET (gone_xact, gone_seq) = (SELECT xact, seq FROM last)
                        WHERE id = (SELECT id FROM (${LIFE}) l) AND (gone_xact, gone_seq) < (SELECT xact, seq FROM last))
         SELECT count(*)::int AS n FROM gone`,
        [days],
      );
      return Number(rows[0]?.['n']);
    },
  };
}

const placeOf = (row: Record<string, unknown>, xact: string, seq: string): ChangePlace => ({
  life: String(row['id']),
  xact: String(row[xact]),
  seq: String(row[seq]),
});
