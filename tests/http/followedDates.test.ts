import { beforeAll, expect, test } from 'vitest';
import { runNight } from '../../src/actions/night/runNight.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** Orders of the night follow their lines' dates as long as nobody has them in hand. */
let t: TestHouse;
const sites: Record<string, { site: Json; line: Json }> = {};

async function ask(
  method: 'GET' | 'POST' | 'PATCH',
  url: string,
  payload?: object,
  status?: number,
): Promise<Json> {
  const headers = method === 'PATCH' ? { 'if-match': '*' } : {};
  const answer = await t.call('owner', { method, url, headers, ...(payload ? { payload } : {}) });
  expect(answer.status, `${method} ${url} ${answer.text}`).toBe(status ?? (method === 'POST' ? 201 : 200));
  return answer.body;
}

async function night(day: string): Promise<Json> {
  t.clock.at = new Date(`${day}T07:00:00Z`);
  const again = (await t.pool.query('SELECT FROM nightly_run WHERE business_day = $1', [day])).rowCount === 1;
  await runNight(t.house, {
    businessDay: day,
    askedBy: 'test',
    holder: 'test',
    routeSeconds: 1,
    routeIterations: 50,
    again,
  });
  const { rows } = await t.pool.query(
    `SELECT s.counts FROM nightly_step s JOIN nightly_run r ON r.id = s.run_id WHERE s.name = 'order' AND r.business_day = $1`,
    [day],
  );
  return rows[0].counts;
}

/** The orders of a house, the oldest first. */
const ordersOf = async (name: string): Promise<Json[]> =>
  (await ask('GET', `/v1/work-orders?siteId=${sites[name]?.site.id}&sort=number`)).items;
const onlyOrder = async (name: string): Promise<Json> => {
  const [order, ...others] = await ordersOf(name);
  expect(others, name).toEqual([]);
  return ask('GET', `/v1/work-orders/${order.id}`);
};
const allOrders = async () =>
  (await t.pool.query('SELECT id, state, wanted_by, not_before, version FROM work_order ORDER BY id')).rows;

async function moveIn(name: string, cleanedOn: string | null, intervalDays = 45): Promise<void> {
  const site = await ask('POST', '/v1/sites', {
    address: `${name} Marsh Gate`,
    town: 'Brindle',
    basement: 'none',
  });
  const system = await ask('POST', '/v1/systems', { siteId: site.id, name: 'Yard', kind: 'gravity' });
  const line = await ask('POST', '/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Yard',
    kind: 'yard_drain',
    outlet: 'daylight',
    length: { value: 20, unit: 'm' },
  });
  await ask('POST', '/v1/line-sections', { lineId: line.id, product: 'sdr_35', nominal: '4' });
  await ask('POST', '/v1/care-terms', { siteId: site.id, intervalDays, fromDay: '2026-01-01' });
  if (cleanedOn !== null) await clean(line, cleanedOn);
  sites[name] = { site, line };
}
const clean = (line: Json, day: string) =>
  ask('POST', '/v1/cleans', {
    lineId: line.id,
    cleanedAt: `${day}T16:00:00Z`,
    task: 'jet',
    flowProven: 'yes',
  });

beforeAll(async () => {
  t = await testHouse('2026-10-01T07:00:00Z');
  // Terms of 45 days: due on 19 October, the others on 28 October, but for the closed season by 9 October.
  await moveIn('cleaned', '2026-09-04');
  for (const name of ['put off', 'changed', 'promised']) await moveIn(name, '2026-09-13');
  sites['season'] = {
    site: null,
    line: await ask('POST', '/v1/closed-seasons', {
      fromDay: '2026-10-10',
      toDay: '2026-11-15',
      tasks: ['survey', 'inspect', 'hose_flush', 'jet'],
      reason: 'roads',
    }),
  };
  await night('2026-10-01');
}, 120_000);

test('an order goes when its line was cleaned, and is put off when a closed season was a mistake', async () => {
  for (const name of ['cleaned', 'put off', 'changed', 'promised'])
    expect((await onlyOrder(name)).wantedBy, name).toBe('2026-10-09');
  // What moved the day stands beside the rule that set it.
  expect((await onlyOrder('put off')).becauseOf.map(({ code }: Json) => code).slice(0, 2)).toEqual([
    'care_terms',
    'closed_season',
  ]);
  t.clock.at = new Date('2026-10-01T17:00:00Z');
  await clean(sites['cleaned']?.line, '2026-10-01');
  await ask('PATCH', `/v1/closed-seasons/${sites['season']?.line.id}`, {
    withdrawnAt: '2026-10-01T17:00:00Z',
  });
  const changed = await onlyOrder('changed');
  await ask('PATCH', `/v1/work-orders/${changed.id}`, { note: 'the gate is locked' });
  await t.pool.query(
    `INSERT INTO promise (id, work_order_id, day) VALUES (gen_random_uuid(), $1, '2026-10-09')`,
    [(await onlyOrder('promised')).id],
  );
  expect(await night('2026-10-02')).toMatchObject({ withdrawn: 1, putOff: 1, orders: 0 });

  // Cleaned on 1 October: the terms ask on 15 November, 44 days ahead; orders are made for 42 at most.
  const gone = await onlyOrder('cleaned');
  expect(gone.state).toBe('withdrawn');
  expect(gone.withdrawnBecause).toMatch(/^Nothing asks for it before 2026-11-15\. Care terms promise/);
  const later = await onlyOrder('put off');
  expect(later).toMatchObject({ state: 'wanted', wantedBy: '2026-10-28', notBefore: '2026-10-14' });
  expect(later.becauseOf.map(({ code }: Json) => code)).toEqual(['care_terms', 'put_off']);
  expect(later.becauseOf.at(-1).facts).toEqual({
    on: '2026-10-02',
    was: '2026-10-09',
    wantedBy: '2026-10-28',
  });
  for (const name of ['changed', 'promised'])
    expect(await onlyOrder(name)).toMatchObject({ state: 'wanted', wantedBy: '2026-10-09' });
});

test('the same night once more, and the next one, change nothing', async () => {
  const before = await allOrders();
  expect(await night('2026-10-02')).toMatchObject({ withdrawn: 0, putOff: 0, orders: 0 });
  expect(await night('2026-10-03')).toMatchObject({ withdrawn: 0, putOff: 0, orders: 0 });
  expect(await allOrders()).toEqual(before);
});

test('terms ask for a line that came into the books after they began an interval after it did', async () => {
  await moveIn('found', null, 20);
  const lineId = sites['found']?.line.id;
  await t.pool.query(`UPDATE line SET created_at = '2026-10-03T15:00:00Z' WHERE id = $1`, [lineId]);
  for (const day of ['2026-10-04', '2026-10-05']) {
    await night(day);
    const { rows } = await t.pool.query('SELECT due_on, due_reasons FROM trend WHERE line_id = $1', [lineId]);
    // Nobody has seen it, so the risk asks at once; by the terms 3 October and 20 days, whatever the night.
    expect(rows[0].due_on >= '2026-10-03').toBe(true);
    const terms = rows[0].due_reasons.find(({ code }: Json) => code === 'care_terms');
    expect(terms.text).toBe('Care terms promise a visit every 20 days: 2026-10-23.');
  }
});
