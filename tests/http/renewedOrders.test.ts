import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** A night's order takes the tasks its line asks for now, until somebody has it in hand. */
let t: TestHouse;
let site: Json;
let line: Json;

async function ask(method: 'GET' | 'POST', url: string, payload?: object, status?: number): Promise<Json> {
  const answer = await t.call('owner', { method, url, ...(payload ? { payload } : {}) });
  expect(answer.status, `${method} ${url} ${answer.text}`).toBe(status ?? (method === 'POST' ? 201 : 200));
  return answer.body;
}
async function night(day: string): Promise<Json> {
  t.clock.at = new Date(`${day}T07:00:00Z`);
  const started = await ask('POST', '/v1/nightly-runs', { businessDay: day }, 202);
  await t.work();
  const run = await ask('GET', `/v1/nightly-runs/${started.id}`);
  expect(run.state, JSON.stringify(run)).toBe('done');
  return run.steps.find((step: Json) => step.name === 'order').counts;
}
async function order(): Promise<Json> {
  const { items } = await ask('GET', `/v1/work-orders?siteId=${site.id}&sort=number`);
  expect(items.length).toBe(1);
  return ask('GET', `/v1/work-orders/${items[0].id}`);
}
const kinds = (made: Json): string[] => made.tasks.map((task: Json) => task.kind);
async function found(at: string, share: number): Promise<void> {
  t.clock.at = new Date(at);
  await ask('POST', '/v1/inspections', {
    lineId: line.id,
    observedAt: at,
    phase: 'no_cleaning',
    reading: { method: 'camera', share },
    deposit: 'gel',
  });
}

beforeAll(async () => {
  t = await testHouse('2026-01-05T14:00:00Z');
  site = await ask('POST', '/v1/sites', { address: '7 Marsh Gate', town: 'Brindle', basement: 'finished' });
  const system = await ask('POST', '/v1/systems', { siteId: site.id, name: 'Yard', kind: 'gravity' });
  line = await ask('POST', '/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Yard',
    kind: 'yard_drain',
    outlet: 'daylight',
    length: { value: 20, unit: 'm' },
  });
  await ask('POST', '/v1/line-sections', { lineId: line.id, product: 'sdr_35', nominal: '4' });
}, 60_000);

test('new readings renew the tasks of an order nobody has in hand, and say what they were', async () => {
  await night('2026-01-05');
  const first = await order();
  expect(kinds(first)[0]).toBe('survey');
  await found('2026-01-06T15:00:00Z', 0.6);
  const counts = await night('2026-01-07');
  expect(counts.renewed).toBe(1);
  const renewed = await order();
  expect(renewed.id).toBe(first.id);
  // Seen now, so no survey; .6 of the bore is more than a hose does.
  expect(kinds(renewed)).toEqual(['jet']);
  const reason = renewed.becauseOf.at(-1);
  expect([reason.code, reason.facts]).toEqual([
    'tasks_renewed',
    { on: '2026-01-07', before: kinds(first), after: ['jet'] },
  ]);
  expect(renewed.minutes).toBeGreaterThan(renewed.tasks[0].minutes);
  // The same once more changes nothing.
  expect((await night('2026-01-08')).renewed).toBe(0);
  expect((await order()).becauseOf.length).toBe(renewed.becauseOf.length);
});

test('an order locked to a day, promised or tried keeps what its crew was told', async () => {
  const before = await order();
  await found('2026-01-08T15:00:00Z', 0.02);
  await t.pool.query(`UPDATE work_order SET lock_day = '2026-01-12' WHERE id = $1`, [before.id]);
  expect((await night('2026-01-09')).renewed).toBe(0);
  expect((await order()).tasks).toEqual(before.tasks);
  await t.pool.query('UPDATE work_order SET lock_day = NULL WHERE id = $1', [before.id]);
  t.clock.at = new Date('2026-01-09T14:00:00Z');
  await ask(
    'POST',
    `/v1/work-orders/${before.id}/start`,
    { startedAt: '2026-01-09T14:00:00Z', cautionsSeen: true },
    200,
  );
  expect((await night('2026-01-10')).renewed).toBe(0);
  expect((await order()).tasks).toEqual(before.tasks);
});

test('a line that the order of its plug has in hand is left to that order, and the night goes on', async () => {
  t = await testHouse('2026-01-05T14:00:00Z');
  site = await ask('POST', '/v1/sites', { address: '9 Marsh Gate', town: 'Brindle', basement: 'finished' });
  const system = await ask('POST', '/v1/systems', { siteId: site.id, name: 'Yard', kind: 'gravity' });
  const added = [];
  for (const name of ['Yard', 'Drive']) {
    const drain = { siteId: site.id, systemId: system.id, name, kind: 'yard_drain', outlet: 'daylight' };
    added.push(await ask('POST', '/v1/lines', { ...drain, length: { value: 20, unit: 'm' } }));
    await ask('POST', '/v1/line-sections', { lineId: added.at(-1)?.id, product: 'sdr_35', nominal: '4' });
  }
  await night('2026-01-05');
  for (const each of added) {
    line = each;
    await found('2026-01-06T15:00:00Z', 0.1);
  }
  await night('2026-01-07');
  const due = await order();
  expect(kinds(due)).toEqual(['hose_flush', 'hose_flush']);
  t.clock.at = new Date('2026-01-07T15:00:00Z');
  await ask('POST', '/v1/inspections', {
    lineId: added[0]?.id,
    observedAt: '2026-01-07T15:00:00Z',
    phase: 'no_cleaning',
    plugged: { cause: 'deposit' },
  });
  const orders = async () => (await ask('GET', `/v1/work-orders?siteId=${site.id}&sort=number`)).items;
  const [, plugged] = await orders();
  expect(kinds(await ask('GET', `/v1/work-orders/${plugged.id}`))).toEqual(['jet']);
  await night('2026-01-08');
  expect(await orders()).toHaveLength(2);
  const tasks = (await ask('GET', `/v1/work-orders/${due.id}`)).tasks;
  expect(tasks.map((task: Json) => [task.kind, task.lineId])).toEqual([['hose_flush', added[1]?.id]]);
}, 60_000);
