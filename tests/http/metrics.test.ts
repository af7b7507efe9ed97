import { expect, test } from 'vitest';
import { plannedHouse, THURSDAY } from '../setup/plannedHouse.js';

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
  const before = await t.call('integration', { method: 'GET', url: '/metrics' });
  expect(before.status).toBe(200);
  expect(before.headers['content-type']).toMatch('text/plain');
  expect(value(before.text, 'openbore_request_seconds_count{operation="listSites",status="200"}')).toBe(1);
  expect(value(before.text, 'openbore_request_seconds_count{operation="getSite",status="404"}')).toBe(1);
  expect(value(before.text, 'openbore_request_seconds_count{operation="no route",status="404"}')).toBe(1);
  expect(before.text).not.toMatch('019abcde');
  expect(value(before.text, 'openbore_unplaced_orders')).toBe(2);
  expect(value(before.text, 'openbore_oldest_unplaced_days')).toBeCloseTo(3, 6);
  expect(value(before.text, 'openbore_connections{state="open"}')).toBeGreaterThan(0);

  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: THURSDAY } });
  const asked = await t.call('integration', { method: 'GET', url: '/metrics' });
  expect(value(asked.text, 'openbore_jobs{state="waiting"}')).toBe(1);
  await t.work();
  const after = await t.call('integration', { method: 'GET', url: '/metrics' });
  expect(value(after.text, 'openbore_night_state{state="done"}')).toBe(1);
  expect(value(after.text, 'openbore_night_step_seconds{step="route"}')).toBeGreaterThan(0);
});
