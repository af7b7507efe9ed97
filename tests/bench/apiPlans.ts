import { parseArgs } from 'node:util';
import type pg from 'pg';
import { createKey } from '../../src/actions/createKey.js';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import { buildApp } from '../../src/http/app.js';
import { makeHouse } from '../../src/persistence/house.js';
import { openPool } from '../../src/persistence/pool.js';
import { benchBase } from './api/base.js';
import { explainAll, faultsOf, type Told } from './api/plans.js';
import { DAY, type Request, WORK } from './api/work.js';

// What callers ask all day, once, on a large base of two years: each statement as PostgreSQL ran it, with those of triggers.
// Told are milliseconds and pages, and what reads a large table whole or sorts all its rows; then indexes nobody used.
//
//   node tests/bench/run.mjs apiPlans --lines 100000 --base FOLDER

const { values } = parseArgs({
  options: {
    lines: { type: 'string', default: '10000' },
    base: { type: 'string' },
    only: { type: 'string', default: '' },
    whole: { type: 'boolean', default: false },
  },
});
const base = await benchBase(Number(values.lines), values.base);
const told: Told[] = [];
const pool = openPool(base.url, { statementTimeoutMs: 600_000 });
explainAll(pool, told);
try {
  const sizes = await sizesOf(base.pool);
  const house = makeHouse(pool, {
    clock: { now: () => new Date(`${DAY}T12:00:00Z`) },
    zone: businessZone('America/Chicago'),
    units: 'metric',
    currency: 'USD',
    version: 'bench',
  });
  const { member, place } = await technician(base.pool);
  const { key } = await house.transact({ name: 'bench' }, (stores) =>
    createKey(stores, { name: 'technician', roles: ['technician'], memberId: member, expiresAt: null }),
  );
  const app = await buildApp(house, { requestsPerMinute: 0 });
  for (const [name, asked] of Object.entries(await requests(place, key))) {
    if (!name.includes(values.only)) continue;
    const ask = async () => {
      const { request, by } = asked();
      const { statusCode, body } = await app.inject({
        method: request.method,
        url: request.path,
        headers: { authorization: `Bearer ${by}` },
        ...(request.body ? { payload: request.body as object } : {}),
      });
      if (statusCode >= 300) throw new Error(`${name}: ${statusCode} ${body}`);
    };
    await ask(); // reads what was not in memory
    told.length = 0;
    await ask();
    const ms = told.filter(({ nested }) => !nested).reduce((sum, one) => sum + one.ms, 0);
    const pages = told.filter(({ nested }) => !nested).reduce((sum, one) => sum + one.pages, 0);
    console.log(`${name.padEnd(34)} ${told.length} statements, ${ms.toFixed(1)} ms, ${pages} pages`);
    for (const one of told)
      for (const fault of faultsOf(one, sizes))
        console.log(
          `    ${fault}\n        ${one.text.replace(/\s+/g, ' ').slice(0, values.whole ? 4000 : 220)}`,
        );
  }
  await app.close();
  await unusedIndexes(base.pool);
} finally {
  await pool.end();
  await base.end();
}

/** Somebody of a crew with a day of work, and ids to ask about. */
async function technician(pool: pg.Pool): Promise<{ member: string; place: Place }> {
  const { rows } = await pool.query(
    `SELECT m.member_id AS member, r.day::text AS day, o.id AS "orderId", o.site_id AS "siteId", l.id AS "lineId", s.town, s.address, sc.client_id AS "clientId"
       FROM route r JOIN crew_membership m ON m.crew_id = r.crew_id JOIN stop st ON st.route_id = r.id JOIN work_order o ON o.id = st.work_order_id
       JOIN site s ON s.id = o.site_id JOIN line l ON l.site_id = s.id JOIN site_client sc ON sc.site_id = s.id
      ORDER BY r.day DESC, r.id, st.position LIMIT 1`,
  );
  const { member, ...place } = rows[0] as Place & { member: string };
  return { member, place };
}

interface Place {
  day: string;
  orderId: string;
  siteId: string;
  lineId: string;
  clientId: string;
  town: string;
  address: string;
}
type Asked = () => { request: Request; by: string };

async function requests(p: Place, technicianKey: string): Promise<Record<string, Asked>> {
  const office =
    (path: string): Asked =>
    () => ({ request: { method: 'GET', path }, by: base.key });
  const phone =
    (path: string): Asked =>
    () => ({ request: { method: 'GET', path }, by: technicianKey });
  const town = encodeURIComponent(p.town);
  const since = await placeBefore(base.pool, 200);
  return {
    ...Object.fromEntries(
      Object.entries(WORK).map(([name, make]): [string, Asked] => [
        name,
        () => ({ request: make(base.ground), by: base.key }),
      ]),
    ),
    'own route': phone(`/v1/routes?day=${p.day}`),
    'trends by risk': office('/v1/trends?sort=-plugChanceYear'),
    'trends by chance in 30 days': office('/v1/trends?sort=-actionChance30d'),
    'trends by rate': office('/v1/trends?sort=-ratePerMonth'),
    'trends by occlusion': office('/v1/trends?sort=-occlusion'),
    'trends of a town': office(`/v1/trends?sort=dueOn&town=${town}`),
    'trends due before': office(`/v1/trends?sort=dueOn&dueBefore=${DAY}`),
    'trends of clay lines': office('/v1/trends?sort=dueOn&material=clay&kind=yard_drain'),
    'trends of a site': office(`/v1/trends?siteId=${p.siteId}`),
    'trends, words': office(`/v1/trends?q=${encodeURIComponent('Marsh 77')}`),
    'trend of a line': office(`/v1/lines/${p.lineId}/trend`),
    summary: office('/v1/summary'),
    'one order': office(`/v1/work-orders/${p.orderId}`),
    'orders of a site': office(`/v1/work-orders?siteId=${p.siteId}`),
    'orders that wait': office('/v1/work-orders?state=wanted&sort=wantedBy'),
    'orders done': office('/v1/work-orders?state=done&sort=-wantedBy'),
    'orders, newest': office('/v1/work-orders?sort=-number'),
    sites: office('/v1/sites'),
    'sites, newest': office('/v1/sites?sort=-createdAt'),
    'sites by address': office('/v1/sites?sort=address'),
    'sites of a town': office(`/v1/sites?town=${town}&sort=address`),
    'sites, words': office('/v1/sites?q=Marsh%2077'),
    'sites near': office('/v1/sites?near=44,-90'),
    clients: office('/v1/clients?sort=name'),
    lines: office('/v1/lines'),
    'lines of a site': office(`/v1/lines?siteId=${p.siteId}`),
    'inspections of a line': office(`/v1/inspections?lineId=${p.lineId}`),
    inspections: office('/v1/inspections'),
    'search, words': office('/v1/search?q=marsh%2077'),
    'search, telephone': office('/v1/search?q=555%200100'),
    'work without a place': office('/v1/unplaced-work'),
    'a week': office(`/v1/days?from=${DAY}&days=5`),
    'one day': office(`/v1/days/${DAY}`),
    events: office('/v1/events?type=line_past_limit&limit=10'),
    'changes since, office': office(`/v1/changes?since=${since}`),
    'changes since, phone': phone(`/v1/changes?since=${since}`),
  };
}

/** So many changes ago, as the list of changes names its places. */
async function placeBefore(pool: pg.Pool, changes: number): Promise<string> {
  const { rows } = await pool.query(
    `SELECT f.id || '.' || c.xact || '.' || c.seq AS place FROM change_life f, LATERAL (SELECT xact, seq FROM change_log ORDER BY xact DESC, seq DESC OFFSET $1 LIMIT 1) c`,
    [changes],
  );
  return Buffer.from(String(rows[0]?.place)).toString('base64url');
}

/** Rows a table is thought to have. */
async function sizesOf(pool: pg.Pool): Promise<Map<string, number>> {
  const { rows } = await pool.query(
    `SELECT relname, reltuples::float8 AS n FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace`,
  );
  return new Map(rows.map(({ relname, n }) => [String(relname), Number(n)]));
}

async function unusedIndexes(pool: pg.Pool): Promise<void> {
  const { rows } = await pool.query(
    `SELECT s.indexrelname AS name, s.relname AS "table", pg_size_pretty(pg_relation_size(s.indexrelid)) AS size
       FROM pg_stat_user_indexes s JOIN pg_index i USING (indexrelid)
      WHERE s.idx_scan = 0 AND NOT i.indisunique AND pg_relation_size(s.indexrelid) > 65536 ORDER BY pg_relation_size(s.indexrelid) DESC`,
  );
  console.log('\nindexes nobody read:');
  for (const { name, table, size } of rows) console.log(`    ${name} on ${table}, ${size}`);
}
