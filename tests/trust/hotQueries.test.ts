import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Pool } from 'pg';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openPool } from '../../src/persistence/pool.js';
import { listenTo, type Said } from '../bench/api/replay.js';
import { type FuzzHouse, fuzzHouse } from '../fuzz/fuzzHouse.js';
import { testDatabase } from '../setup/testDatabase.js';

// What callers ask all day must find its rows by an index, however large the base has grown. A small base is read row
// by row whatever indexes there are; with such reading, and sorting, forbidden only those remain that have no other way.

/** Grow with the base or with its years. */
const GROWING = new Set(
  'client contact site site_client system pit pump line line_section access_point epoch inspection clean reading_review line_state trend trend_history work_order work_order_task precondition promise decision plan route stop attempt event idempotency_key conflict change_log import_run water_record note attachment stored_file sync_item route_publication route_change phone_call task_result webhook_delivery mail calendar_entry forecast_score'.split(
    ' ',
  ),
);

let t: FuzzHouse;
let pool: Pool;
/** In the list of changes, before the last client came. */
let place: string;
let heard: { said: Said[]; listens: boolean };
beforeAll(async () => {
  const { url } = await testDatabase();
  pool = openPool(url);
  heard = listenTo(pool);
  const folder = mkdtempSync(join(tmpdir(), 'openbore-hot-'));
  t = await fuzzHouse(pool, folder, 3, 6);
  place = (await t.door.as('dispatcher', 'GET', '/v1/changes')).body.next;
  await t.door.as('dispatcher', 'POST', '/v1/clients', { name: 'A. Reed', phone: '555 0100' });
  afterAll(async () => {
    await t.app.close();
    await pool.end();
    rmSync(folder, { recursive: true, force: true });
  });
}, 120_000);

const orderId = async () =>
  (
    await pool.query<{ id: string }>(
      'SELECT work_order_id AS id FROM stop WHERE live ORDER BY position LIMIT 1',
    )
  ).rows[0]?.id;
const note = (siteId: string, n: number) => ({
  kind: 'note',
  id: `00000000-0000-4000-8000-00000000000${n}`,
  at: '2026-10-01T15:00:00Z',
  siteId,
  text: 'key under the pot',
});
const inspection = (lineId: string) => ({
  lineId,
  observedAt: '2026-10-01T15:00:00Z',
  phase: 'no_cleaning',
  reading: { method: 'camera', share: 0.2 },
});

type Asked = () => Promise<{ status: number; text: string }>;
const read =
  (role: 'dispatcher' | 'technician' | 'owner', path: () => string | Promise<string>): Asked =>
  async () =>
    t.door.as(role, 'GET', await path());

const HOT: Record<string, Asked> = {
  'own route': read('technician', () => '/v1/routes?day=2026-10-01'),
  'all routes of a day': read('dispatcher', () => '/v1/routes?day=2026-10-01'),
  'changes since': read('technician', () => `/v1/changes?since=${place}`),
  'changes since, office': read('dispatcher', () => `/v1/changes?since=${place}`),
  'one order': read('dispatcher', async () => `/v1/work-orders/${await orderId()}`),
  'orders of a site': read('dispatcher', () => `/v1/work-orders?siteId=${t.places[0]?.siteId}`),
  'one line': read('dispatcher', () => `/v1/lines/${t.places[0]?.lineId}`),
  'its trend': read('dispatcher', () => `/v1/lines/${t.places[0]?.lineId}/trend`),
  'lines of a site': read('dispatcher', () => `/v1/lines?siteId=${t.places[0]?.siteId}`),
  'inspections of a line': read('dispatcher', () => `/v1/inspections?lineId=${t.places[0]?.lineId}`),
  'trends of a town': read('owner', () => '/v1/trends?town=Alder%20Quay&dueBefore=2026-12-01'),
  'newest sites': read('dispatcher', () => '/v1/sites?sort=-createdAt'),
  'newest readings': read('owner', () => '/v1/inspections?limit=50'),
  'every line': read('owner', () => '/v1/lines'),
  'what is due first': read('owner', () => '/v1/trends?sort=dueOn&limit=50'),
  'orders that wait': read('dispatcher', () => '/v1/work-orders?state=wanted&sort=wantedBy&limit=50'),
  'work without a place': read('dispatcher', () => '/v1/unplaced-work'),
  'a week': read('dispatcher', () => '/v1/days?from=2026-10-01&days=5'),
  events: read('owner', () => '/v1/events?type=line_past_limit&limit=10'),
  'one day': read('dispatcher', () => '/v1/days/2026-10-01'),
  'by telephone': read('dispatcher', () => '/v1/search?q=555%200100'),
  'by name': read('dispatcher', () => '/v1/search?q=marsh'),
  'an inspection': () =>
    t.door.as('dispatcher', 'POST', '/v1/inspections', inspection(String(t.places[0]?.lineId))),
  'a sync': () =>
    t.door.as('dispatcher', 'POST', '/v1/sync', {
      sentAt: '2026-10-01T20:00:00Z',
      items: [note(String(t.places[0]?.siteId), 1), note(String(t.places[1]?.siteId), 2)],
    }),
};

interface PlanNode {
  'Node Type': string;
  'Relation Name'?: string;
  Plans?: PlanNode[];
}
const nodesOf = (node: PlanNode): PlanNode[] => [node, ...(node.Plans ?? []).flatMap(nodesOf)];

/** The steps of a statement when it may neither read tables whole nor sort, if there is another way. */
async function stepsOf({ text, values }: Said): Promise<PlanNode[]> {
  if (!/^\s*(SELECT|WITH|UPDATE|DELETE)\b/i.test(text)) return [];
  const client = await pool.connect();
  try {
    await client.query('BEGIN');
    await client.query('SET LOCAL enable_seqscan = off; SET LOCAL enable_sort = off');
    const { rows } = await client.query(`EXPLAIN (FORMAT JSON) ${text}`, values);
    return nodesOf(rows[0]['QUERY PLAN'][0].Plan);
  } finally {
    await client.query('ROLLBACK');
    client.release();
  }
}

/** Growing tables that a statement can only read whole. */
const readWhole = async (said: Said): Promise<string[]> =>
  (await stepsOf(said))
    .filter((node) => node['Node Type'] === 'Seq Scan' && GROWING.has(String(node['Relation Name'])))
    .map((node) => String(node['Relation Name']));

test.each(Object.keys(HOT))('%s: every growing table is read by an index', async (name) => {
  heard.said.length = 0;
  const answer = await (HOT[name] as Asked)();
  expect(answer.text).toBeTruthy();
  expect(answer.status).toBeLessThan(300);
  const said = [...heard.said];
  expect(said.length).toBeGreaterThan(0);
  const whole: string[] = [];
  for (const each of said)
    for (const table of await readWhole(each))
      whole.push(`${table}: ${each.text.replace(/\s+/g, ' ').slice(0, 160)}`);
  expect(whole).toEqual([]);
});

// A page of a list must not sort the whole of it first: an index brings the rows in order, from either end.
test.each([
  ...['dueOn', 'ratePerMonth', 'plugChanceYear', 'actionChance30d', 'occlusion'].flatMap((sort) => [
    `trends?sort=${sort}`,
    `trends?sort=-${sort}`,
  ]),
  'work-orders',
  'work-orders?sort=-wantedBy',
  'work-orders?sort=-number',
  'work-orders?state=done&sort=-wantedBy',
  'sites',
  'sites?sort=-createdAt',
  'sites?sort=address',
  'clients',
  'clients?sort=name',
  'contacts',
  'site-clients',
  'systems',
  'lines',
  'inspections',
  'inspections?sort=receivedAt',
  'cleans',
  'cleans?sort=-receivedAt',
  'events',
  'events?type=line_past_limit',
])('/v1/%s: its pages come in the order of an index', async (path) => {
  const page = `/v1/${path}${path.includes('?') ? '&' : '?'}limit=1`;
  const first = await t.door.as('owner', 'GET', page);
  expect(first.status).toBe(200);
  heard.said.length = 0;
  await t.door.as('owner', 'GET', `${page}${first.body.next ? `&cursor=${first.body.next}` : ''}`);
  const lists = heard.said.filter(({ text }) => / ORDER BY .* LIMIT /.test(text));
  expect(lists.length).toBeGreaterThan(0);
  for (const list of lists)
    expect((await stepsOf(list)).map((node) => node['Node Type'])).not.toContain('Sort');
});

test('a statement that must sort is found out', async () => {
  const steps = await stepsOf({ text: 'SELECT * FROM inspection ORDER BY note', values: [] });
  expect(steps.map((node) => node['Node Type'])).toContain('Sort');
});

test('a statement without an index is found out', async () => {
  expect(await readWhole({ text: 'SELECT 1 FROM inspection WHERE note = $1', values: ['x'] })).toEqual([
    'inspection',
  ]);
});
