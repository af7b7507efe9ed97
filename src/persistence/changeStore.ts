import type { ChangePlace, ChangeStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';
import { STANDS, TRIED } from './stopStands.js';

/** What stands on an order or its site: table, how it is found, and its key to one of them. */
const PARTS: readonly { table: string; from: string; at: string; of: 'id' | 'site_id' }[] = [
  { table: 'work_order', from: 'work_order x', at: 'x.id', of: 'id' },
  ...['work_order_task', 'precondition', 'attempt', 'promise', 'locate_ticket', 'trench_check'].map(
    (table) => ({
      table,
      from: `${table} x`,
      at: 'x.work_order_id',
      of: 'id' as const,
    }),
  ),
  { table: 'site', from: 'site x', at: 'x.id', of: 'site_id' },
  ...['line', 'pit', 'access_point', 'system', 'contact', 'note', 'attachment'].map((table) => ({
    table,
    from: `${table} x`,
    at: 'x.site_id',
    of: 'site_id' as const,
  })),
  {
    table: 'danger',
    from: 'danger x JOIN work_order p ON p.id = x.work_order_id',
    at: 'p.site_id',
    of: 'site_id',
  },
  ...['inspection', 'clean'].flatMap((table) =>
    ['line', 'pit'].map((place) => ({
      table,
      from: `${table} x JOIN ${place} p ON p.id = x.${place}_id`,
      at: 'p.site_id',
      of: 'site_id' as const,
    })),
  ),
];

/** The crew's days `r` on which the technician was one of it. */
const OWN_DAY = `JOIN crew_membership m ON m.crew_id = r.crew_id AND m.member_id = $6 AND m.from_day <= r.day AND (m.to_day IS NULL OR m.to_day > r.day)`;
const OWN_STOPS = `stop st JOIN route r ON r.id = st.route_id AND r.state IN ('live', 'replaced') ${OWN_DAY}`;
/** A stop that is still to be done or was tried. */
const IS_THERE = `((r.state = 'live' AND st.live) OR ${TRIED})`;

/**
 * What a technician hears of hangs on these: the own crew's routes, and the orders of their stops and of the own
 * call-outs, whose sites are heard of whole. Read when the first row asks for them.
 */
const OWN = `
  own_route AS MATERIALIZED (SELECT r.id FROM route r ${OWN_DAY} WHERE r.state IN ('live', 'replaced')),
  own_order AS MATERIALIZED (
    SELECT o.id, o.site_id FROM ${OWN_STOPS} JOIN work_order o ON o.id = st.work_order_id WHERE ${IS_THERE}
    UNION SELECT o.id, o.site_id FROM call_out c JOIN work_order o ON o.id = c.work_order_id WHERE c.member_id = $6)`;

/** Of each table of which a technician hears: whether a row of it is theirs, by the row's id. */
const JUDGED: Record<string, (row: string) => string> = {
  route: (row) => `${row} IN (SELECT id FROM own_route)`,
  stop: (row) => `(SELECT x.route_id FROM stop x WHERE x.id = ${row}) IN (SELECT id FROM own_route)`,
  route_publication: (row) => `EXISTS (SELECT FROM route_publication r ${OWN_DAY} WHERE r.id = ${row})`,
  crew_membership: (row) => `EXISTS (SELECT FROM crew_membership x WHERE x.id = ${row} AND x.member_id = $6)`,
  sync_item: (row) => `EXISTS (SELECT FROM sync_item x WHERE x.id = ${row} AND x.author_id = $6)`,
  // Bytes bear the id of the attachment that they belong to.
  stored_file: (row) => partIsOwn('attachment', row),
  ...Object.fromEntries(PARTS.map(({ table }) => [table, (row: string) => partIsOwn(table, row)])),
};

/** Tables of which a technician hears; removals are heard of all. */
export const HEARD_TABLES: readonly string[] = Object.keys(JUDGED);

/**
 * Whether a row is the technician's to hear of, asked of each by itself: few have changed since a phone last asked, and
 * all that is ever on the sites of years need not be gathered for them. Null where the row is no more.
 * @param of What has a column `resource` and one `row_id`.
 */
const isOwn = (of: string) => `
  CASE ${of}.resource
    ${Object.entries(JUDGED)
      .map(([table, judge]) => `WHEN '${table}' THEN ${judge(`${of}.row_id`)}`)
      .join('\n    ')}
    ELSE false END`;

function partIsOwn(table: string, row: string): string {
  return PARTS.filter((part) => part.table === table)
    .map(
      ({ from, at, of }) =>
        `(SELECT ${at} FROM ${from} WHERE x.id = ${row}) IN (SELECT ${of} FROM own_order)`,
    )
    .join(' OR ');
}

/** Was on a route and is no more, because another took its place or the visit went to another crew. */
const isGone = (of: string) => `
  CASE ${of}.resource
    WHEN 'route' THEN EXISTS (SELECT FROM route r ${OWN_DAY} WHERE r.id = ${of}.row_id AND r.state = 'replaced')
    WHEN 'stop' THEN EXISTS (SELECT FROM ${OWN_STOPS} WHERE st.id = ${of}.row_id AND (r.state = 'replaced' OR NOT ${STANDS}))
    ELSE false END`;

// A sequence number is taken before its transaction commits: read by number alone, a slow transaction's rows
// would appear behind a reader who is past them. Ordered by transaction, and only below the oldest that still
// runs, nothing can.
const VISIBLE = 'xact < pg_snapshot_xmin(pg_current_snapshot())::text::bigint';

/** The last change after a place that is visible now. */
const HORIZON = `SELECT xact::text, seq::text FROM change_log WHERE (xact, seq) > ($1::bigint, $2::bigint) AND ${VISIBLE} ORDER BY xact DESC, seq DESC LIMIT 1`;
/** After a place, up to a horizon, which is visible whole. */
const BETWEEN = '(xact, seq) > ($1::bigint, $2::bigint) AND (xact, seq) <= ($4::bigint, $5::bigint)';

/** A change of crew tells of routes from so many days before it, or before the day that it names, on: what a phone may still hold. */
const DAYS_HELD = 31;

/**
 * One page of what a technician hears. What a change of crew, a route that came or went, or a stop that went takes out of
 * view or brings into it did not change itself: it is told beside that change, as it is now, and whole, so that no page
 * ends within. A site that another stop keeps in view is not told of again.
 */
const HEARD = `
  WITH ${OWN},
  asked AS (
    SELECT seq, xact, resource, row_id, op, version, at, row_number() OVER (ORDER BY xact, seq) AS n FROM (
      SELECT * FROM change_log
       WHERE ${BETWEEN} AND (op = 'removed' OR ${isOwn('change_log')})
       ORDER BY xact, seq LIMIT $3 + 1) found),
  page AS (SELECT * FROM asked WHERE n <= $3),
  by_crew AS (
    SELECT DISTINCT ON (y.id) page.seq, page.xact, page.at, y.id AS route_id
      FROM page JOIN crew_membership m ON m.id = page.row_id AND m.member_id = $6 JOIN route y ON y.crew_id = m.crew_id
     WHERE page.resource = 'crew_membership' AND y.state = 'live' AND (page.op <> 'created' OR y.id IN (SELECT id FROM own_route))
       AND y.day >= LEAST(page.at::date, m.to_day, CASE WHEN m.version = 1 THEN m.from_day END) - ${DAYS_HELD}
     ORDER BY y.id, page.xact DESC, page.seq DESC),
  turned AS (
    SELECT b.seq, b.xact, b.at, s.id, s.route_id, s.work_order_id, true AS whole FROM by_crew b JOIN stop s ON s.route_id = b.route_id
    UNION ALL SELECT page.seq, page.xact, page.at, s.id, s.route_id, s.work_order_id, false FROM page JOIN stop s ON s.route_id = page.row_id WHERE page.resource = 'route' AND page.row_id IN (SELECT id FROM own_route)
    UNION ALL SELECT page.seq, page.xact, page.at, s.id, s.route_id, s.work_order_id, false FROM page JOIN stop s ON s.id = page.row_id WHERE page.resource = 'stop' AND ${isGone('page')}),
  turned_order AS (
    SELECT t.seq, t.xact, t.at, o.id, o.site_id,
           NOT t.whole AND EXISTS (SELECT FROM work_order y JOIN ${OWN_STOPS} ON st.work_order_id = y.id AND st.route_id <> t.route_id WHERE y.site_id = o.site_id AND ${IS_THERE}) AS kept
      FROM turned t JOIN work_order o ON o.id = t.work_order_id),
  beside AS (
    SELECT seq, xact, at, 'route' AS resource, route_id AS row_id FROM by_crew
    UNION ALL SELECT seq, xact, at, 'stop', id FROM turned
    ${PARTS.map(({ table, from, at, of }) => `UNION ALL SELECT t.seq, t.xact, t.at, '${table}', x.id FROM turned_order t JOIN LATERAL (SELECT x.id FROM ${from} WHERE ${at} = t.${of}) x ON true${of === 'site_id' ? ' WHERE NOT t.kept' : ''}`).join('\n    ')}),
  told AS (
    SELECT DISTINCT ON (resource, row_id) seq, xact, resource, row_id, at
      FROM beside WHERE (resource, row_id) NOT IN (SELECT resource, row_id FROM page)
     ORDER BY resource, row_id, xact DESC, seq DESC)
  SELECT seq::text, xact::text, resource, row_id, op, version, at, (SELECT count(*) > $3 FROM asked) AS more FROM (
    SELECT seq, xact, resource, row_id, CASE WHEN ${isGone('page')} THEN 'removed' ELSE op END AS op, version, at FROM page
    UNION ALL
    SELECT seq, xact, resource, row_id,
           CASE WHEN ${isOwn('told')} AND NOT ${isGone('told')} THEN 'changed' ELSE 'removed' END, NULL::int, at FROM told) heard
   ORDER BY heard.xact, heard.seq, resource, row_id`;

const ALL = `
  WITH asked AS (
    SELECT * FROM change_log WHERE ${BETWEEN} ORDER BY xact, seq LIMIT $3 + 1)
  SELECT seq::text, xact::text, resource, row_id, op, version, at, (SELECT count(*) > $3 FROM asked) AS more
    FROM asked ORDER BY asked.xact, asked.seq LIMIT $3`;

const LIFE = 'SELECT id, gone_xact, gone_seq FROM change_life ORDER BY began_at DESC, id DESC LIMIT 1';

export function makeChangeStore(q: Queryable): ChangeStore {
  return {
    async since(after, limit, memberId) {
      const [found] = (await q.query(HORIZON, [after.xact, after.seq])).rows;
      if (!found) return { rows: [], more: false, next: after };
      const horizon = placeOf({ ...found, id: after.life }, 'xact', 'seq');
      const asked = [after.xact, after.seq, limit, horizon.xact, horizon.seq];
      const { rows } =
        memberId === null ? await q.query(ALL, asked) : await q.query(HEARD, [...asked, memberId]);
      const last = rows.at(-1);
      if (!last?.['more']) return { rows, more: false, next: horizon };
      return { rows, more: true, next: placeOf({ ...last, id: after.life }, 'xact', 'seq') };
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
        `WITH gone AS (DELETE FROM change_log WHERE at < business_now() - make_interval(days => $1) AND ${VISIBLE} RETURNING xact, seq),
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
