import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { createKey } from '../../src/actions/createKey.js';
import { buildApp } from '../../src/http/app.js';
import { plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import { testHouse } from '../setup/testHouse.js';

/** Names of the metrics that the sample alerts of the contributors' page rest on. */
function alertNames(): string[] {
  const page = readFileSync(join(import.meta.dirname, '../../DEVELOPERS.md'), 'utf8');
  const [, alerts = ''] = /```yaml\n(- \{ alert: [^`]*)```/.exec(page) ?? [];
  return [...new Set(alerts.match(/openbore_\w+/g))];
}

const value = (text: string, name: string) =>
  Number(new RegExp(`^${name.replace(/[{}"]/g, '\\$&')} (\\S+)$`, 'm').exec(text)?.[1]);

test('metrics: who may read them, requests by operation, the night, work that waits', async () => {
  const t = await plannedHouse();
  await t.order();
  await t.order({ east: 1 });
  await t.pool.query(`UPDATE work_order SET created_at = '2026-09-28T12:00:00Z'`);
  for (const role of ['dispatcher', 'technician', null] as const)
    expect((await t.call(role, { method: 'GET', url: '/metrics' })).status).toBe(role ? 403 : 401);

  await t.call('owner', { method: 'GET', url: '/v1/sites' });
  await t.call('owner', { method: 'GET', url: '/v1/sites/019abcde-0000-7000-8000-000000000001' });
  await t.call('owner', { method: 'GET', url: '/v1/nothing-here' });
  const before = await t.call('monitor', { method: 'GET', url: '/metrics' });
  // Its key lies in the settings of a scraper: it opens nothing else.
  for (const url of ['/v1/clients', '/v1/me', '/v1/meta'])
    expect((await t.call('monitor', { method: 'GET', url })).status).toBe(403);
  expect(before.status, before.text).toBe(200);
  expect(before.headers['content-type']).toMatch('text/plain');
  expect(value(before.text, 'openbore_request_seconds_count{operation="listSites",status="200"}')).toBe(1);
  expect(value(before.text, 'openbore_request_seconds_count{operation="getSite",status="404"}')).toBe(1);
  expect(value(before.text, 'openbore_request_seconds_count{operation="none",status="404"}')).toBe(1);
  expect(before.text).not.toMatch('019abcde');
  expect(value(before.text, 'openbore_unplaced_orders')).toBe(2);
  expect(value(before.text, 'openbore_oldest_unplaced_seconds')).toBeCloseTo(3 * 86_400, 1);
  expect(value(before.text, 'openbore_connections_max{pool="all"}')).toBe(20);
  expect(value(before.text, 'openbore_connections{pool="all",state="busy"}')).toBeGreaterThanOrEqual(0);
  expect(value(before.text, 'openbore_database_up')).toBe(1);
  expect(value(before.text, 'openbore_last_backup_timestamp_seconds')).toBe(0);
  for (const what of ['webhooks', 'mails', 'sync_items'])
    expect(value(before.text, `openbore_backlog{what="${what}",state="waiting"}`)).toBe(0);

  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: THURSDAY } });
  const asked = await t.call('integration', { method: 'GET', url: '/metrics' });
  expect(value(asked.text, 'openbore_jobs{state="waiting"}')).toBe(1);
  // Asked for and not begun, it is told all the same.
  expect(value(asked.text, 'openbore_night_state{state="waiting"}')).toBe(1);
  await t.work();
  const after = await t.call('integration', { method: 'GET', url: '/metrics' });
  expect(value(after.text, 'openbore_night_state{state="done"}')).toBe(1);
  expect(value(after.text, 'openbore_night_step_seconds{step="route"}')).toBeGreaterThan(0);
  const alerts = alertNames();
  expect(alerts.length).toBeGreaterThan(10);
  for (const name of alerts) expect(after.text, name).toMatch(new RegExp(`^(# TYPE )?${name}[ {]`, 'm'));

  // A dead job whose work is done by another, or whose key a later one has, is no alarm; one that is undone is.
  const { jobs } = t.house.stores;
  const failed = async () =>
    value(
      (await t.call('monitor', { method: 'GET', url: '/metrics' })).text,
      'openbore_jobs{state="failed"}',
    );
  const kill = (key: string) =>
    t.pool.query('UPDATE graphile_worker._private_jobs SET attempts = max_attempts WHERE key = $1', [key]);
  await jobs.add('night', { businessDay: THURSDAY }, `night:${THURSDAY}`);
  await kill(`night:${THURSDAY}`);
  expect(await failed()).toBe(0);
  await jobs.add('webhook', { id: 'x' }, 'webhook:x');
  await kill('webhook:x');
  expect(await failed()).toBe(1);
  await t.pool.query('UPDATE graphile_worker._private_jobs SET key = NULL');
  expect(await failed()).toBe(0);
}, 60_000);

test('metrics go on without the database, and say so', async () => {
  const { house } = await testHouse();
  let isAway = false;
  const app = await buildApp(house, {
    own: async () => ({
      pools: { work: { busy: 1, idle: 2, most: 14, waiting: 3, timeouts: 4 } },
      freeBytes: { files: 5e9 },
      beatsLost: 6,
      working: { night: 1, plan: 0 },
    }),
    gauges: () => (isAway ? Promise.reject(new Error('gone')) : house.reads.gauges(house.clock.now())),
  });
  const { key } = await house.transact({ name: 'test' }, (stores) =>
    createKey(stores, { name: 'scraper', roles: ['monitor'], memberId: null, expiresAt: null }),
  );
  const scrape = () => app.inject({ url: '/metrics', headers: { authorization: `Bearer ${key}` } });
  expect(value((await scrape()).body, 'openbore_database_up')).toBe(1);
  isAway = true;
  const { statusCode, body } = await scrape();
  expect([statusCode, value(body, 'openbore_database_up')]).toEqual([200, 0]);
  expect(value(body, 'process_cpu_seconds_total')).toBeGreaterThan(0);
  // Counters are told as they stand, however often they are read.
  for (const [name, told] of [
    ['connections{pool="work",state="busy"}', 1],
    ['connection_waiters{pool="work"}', 3],
    ['connection_timeouts_total{pool="work"}', 4],
    ['disk_free_bytes{of="files"}', 5e9],
    ['heartbeats_lost_total', 6],
    ['jobs_worked_on{job="night"}', 1],
  ] as const)
    expect(value(body, `openbore_${name}`), name).toBe(told);
  await app.close();
}, 60_000);
