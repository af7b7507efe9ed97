import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let lineId: string;

beforeAll(async () => {
  t = await testHouse();
  const site = await post('/v1/sites', { address: '1 Marsh Gate', town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  const line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'D',
    kind: 'footing_drain',
  });
  lineId = line.id;
  await post('/v1/line-sections', { lineId, material: 'pvc', bore: { value: 4, unit: 'in' } });
});

async function post(url: string, payload: object) {
  const answer = await t.call('dispatcher', { method: 'POST', url, payload });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
}

const found = (more: object = {}) => ({
  lineId,
  observedAt: '2026-09-20T09:00:00Z',
  phase: 'no_cleaning',
  reading: { method: 'camera', share: 0.3 },
  ...more,
});

test('a depth in inches on a 4 in line becomes an occlusion with its error; the reading stays as read', async () => {
  // 2 of 4 in: half the area
  const made = await post(
    '/v1/inspections',
    found({ reading: { method: 'outlet_depth', depth: { value: 2, unit: 'in' } } }),
  );
  expect(made.occlusion).toBeCloseTo(0.5, 6);
  expect(made.standardError).toBeGreaterThan(0.05);
  expect(made.raw).toEqual({ method: 'outlet_depth', depthMm: 50.8 });
});

test.each([
  ['a share above 1', { reading: { method: 'camera', share: 1.2 } }, 400, '#/reading/share'],
  ['a share below 0', { reading: { method: 'camera', share: -0.1 } }, 400, '#/reading/share'],
  ['a moment in the future', { observedAt: '2027-01-01T00:00:00Z' }, 422, '#/observedAt'],
  ['a line that is not there', { lineId: '019abcde-0000-7000-8000-000000000009' }, 422, '#/lineId'],
  ['a crew that is not there', { crewId: '019abcde-0000-7000-8000-000000000009' }, 422, '#/crewId'],
  ['a plug with a reading', { plugged: { cause: 'deposit' } }, 422, '#/plugged'],
  ['nothing read', { reading: null }, 422, '#/reading'],
  [
    'a depth above the bore',
    { reading: { method: 'outlet_depth', depth: { value: 5, unit: 'in' } } },
    422,
    '#/reading/depth',
  ],
])('%s is refused and named', async (_name, more, status, pointer) => {
  const before = await t.house.stores.rows.count('inspection', []);
  const bad = await t.call('dispatcher', { method: 'POST', url: '/v1/inspections', payload: found(more) });
  expect(bad.status, bad.text).toBe(status);
  expect(bad.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
  expect(await t.house.stores.rows.count('inspection', [])).toBe(before);
});

test('a correction replaces, a mistake is withdrawn, both stay on record', async () => {
  const first = await post('/v1/inspections', found({ observedAt: '2026-09-21T09:00:00Z' }));
  const second = await post(
    '/v1/inspections',
    found({
      observedAt: '2026-09-21T09:00:00Z',
      replacesId: first.id,
      reading: { method: 'camera', share: 0.4 },
    }),
  );
  const again = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/inspections',
    payload: found({ replacesId: first.id }),
  });
  expect(again.status).toBe(409);
  const gone = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/inspections/${second.id}/withdrawal`,
    payload: { because: 'wrong house' },
  });
  expect(gone.body.withdrawnBecause).toBe('wrong house');
  const inForce = await t.call('owner', {
    method: 'GET',
    url: `/v1/inspections?lineId=${lineId}&observedAtFrom=2026-09-21T00:00:00Z`,
  });
  expect(inForce.body.items).toHaveLength(0);
  const all = await t.call('owner', {
    method: 'GET',
    url: `/v1/inspections?lineId=${lineId}&observedAtFrom=2026-09-21T00:00:00Z&all=true`,
  });
  expect(all.body.items).toHaveLength(2);
});

test('a batch is all or nothing and names the bad item', async () => {
  const before = await t.house.stores.rows.count('inspection', []);
  const items = [found(), found({ observedAt: '2027-01-01T00:00:00Z' })];
  const bad = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/inspections/batch',
    payload: { items },
  });
  expect(bad.status).toBe(422);
  expect(bad.body.errors[0].pointer).toBe('#/items/1/observedAt');
  expect(await t.house.stores.rows.count('inspection', [])).toBe(before);
});

test('a sent-again inspection with its own id is one inspection', async () => {
  const payload = found({ id: randomUUID(), observedAt: '2026-09-22T09:00:00Z' });
  const first = await post('/v1/inspections', payload);
  expect((await post('/v1/inspections', payload)).id).toBe(first.id);
  const other = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/inspections',
    payload: { ...payload, phase: 'before_cleaning' },
  });
  expect(other.status).toBe(409);
});

test('a clean without a reading is still a clean', async () => {
  const made = await post('/v1/cleans', {
    lineId,
    cleanedAt: '2026-09-20T10:00:00Z',
    task: 'jet',
    flowProven: 'yes',
    water: { value: 40, unit: 'gal' },
  });
  expect(made.water).toEqual({ value: 151.416471, unit: 'L' }); // 40 × 3.785411784
});

test('a technician posts only on the sites of the own crew on the day of the work', async () => {
  const answer = await t.call('technician', { method: 'POST', url: '/v1/inspections', payload: found() });
  expect(answer.status).toBe(403);
});
