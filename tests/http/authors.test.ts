import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';

let t: RoutedHouse;
let key: string;
beforeAll(async () => {
  t = await routedHouse();
  key = await t.keyOf('Tern');
});

let minute = 0;
/** Each at its own minute of the day before noon. */
const found = (lineId: string, more: object = {}) => ({
  lineId,
  observedAt: new Date(Date.UTC(2026, 9, 1, 6, minute++)).toISOString(),
  phase: 'no_cleaning',
  reading: { method: 'camera', share: 0.3 },
  ...more,
});
const byOffice = async (url: string, payload: object) => {
  const answer = await t.call('dispatcher', { method: 'POST', url, payload });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};
const inForce = async (id: string) =>
  (await t.house.stores.rows.get('inspection', id))?.['replaced_at'] === null;

test('a technician replaces on the sites of the own route, and nowhere else', async () => {
  const foreign = await byOffice('/v1/inspections', found(t.foreign.lineId));
  const refused = await t.as(key, 'POST', '/v1/inspections', found(t.own.lineId, { replacesId: foreign.id }));
  expect(refused.status).toBe(422);
  expect(refused.body.errors[0].pointer).toBe('#/replacesId');
  expect(await inForce(foreign.id)).toBe(true);

  const own = await byOffice('/v1/inspections', found(t.own.lineId));
  const replaced = await t.as(key, 'POST', '/v1/inspections', found(t.own.lineId, { replacesId: own.id }));
  expect(replaced.status).toBe(201);
  expect(await inForce(own.id)).toBe(false);
});

test('what is withdrawn is withdrawn by who wrote it, not by a namesake', async () => {
  const mine = (await t.as(key, 'POST', '/v1/inspections', found(t.own.lineId))).body;
  const other = randomUUID();
  await t.house.stores.rows.insert('member', { id: other, name: 'Tern' });
  const withdraw = async (bearer: string, id: string) =>
    (await t.as(bearer, 'POST', `/v1/inspections/${id}/withdrawal`, { because: 'slip' })).status;
  expect(await withdraw(await t.keyOf('Tern', other), mine.id)).toBe(404);
  // Another phone of the same person.
  expect(await withdraw(await t.keyOf('Tern, new phone'), mine.id)).toBe(200);
  const clean = (
    await t.as(key, 'POST', '/v1/cleans', { lineId: t.own.lineId, cleanedAt: '2026-10-01T11:00:00Z' })
  ).body;
  expect(
    (
      await t.as(await t.keyOf('Tern', other), 'POST', `/v1/cleans/${clean.id}/withdrawal`, {
        because: 'slip',
      })
    ).status,
  ).toBe(404);
  expect((await t.as(key, 'POST', `/v1/cleans/${clean.id}/withdrawal`, { because: 'slip' })).status).toBe(
    200,
  );
});

test('the same look twice is refused and names the instant; elsewhere on the line it is another look', async () => {
  const look = found(t.own.lineId);
  await byOffice('/v1/inspections', look);
  const twice = await t.call('dispatcher', { method: 'POST', url: '/v1/inspections', payload: look });
  expect(twice.status).toBe(409);
  expect(twice.body.errors[0].pointer).toBe('#/observedAt');
  await byOffice('/v1/inspections', { ...look, distance: { value: 12, unit: 'm' } });
});

test('several cleans of a line at one instant are one too many', async () => {
  const clean = { lineId: t.own.lineId, cleanedAt: '2026-10-01T10:00:00Z' };
  await byOffice('/v1/cleans', { ...clean, task: 'jet' });
  const twice = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/cleans',
    payload: { ...clean, task: 'hose_flush' },
  });
  expect(twice.status).toBe(409);
  expect(twice.body.errors[0].pointer).toBe('#/cleanedAt');
});

test('of a batch, the item whose id was taken is kept for a person; what the database refuses names the item', async () => {
  const id = randomUUID();
  const first = { ...found(t.own.lineId), id };
  await byOffice('/v1/inspections', first);
  const batch = (items: object[]) =>
    t.call('dispatcher', { method: 'POST', url: '/v1/inspections/batch', payload: { items } });
  const other = { ...first, note: 'other' };
  expect((await batch([found(t.own.lineId), other])).status).toBe(409);
  const kept = await t.house.stores.rows.all('conflict', [{ column: 'resource_id', is: '=', value: id }]);
  expect(kept).toHaveLength(1);
  expect(kept[0]?.['content']).toMatchObject({ id, note: 'other' });

  const noCrew = await batch([found(t.own.lineId), found(t.own.lineId, { crewId: randomUUID() })]);
  expect(noCrew.status).toBe(422);
  expect(noCrew.body.errors[0].pointer).toBe('#/items/1/crewId');
  const look = found(t.own.lineId);
  const twice = await batch([look, look]);
  expect(twice.status).toBe(409);
  expect(twice.body.errors[0].pointer).toBe('#/items/1/observedAt');
});

test('a technician reads single records of the sites of the own routes, and no lists', async () => {
  const contact = await byOffice('/v1/contacts', { siteId: t.own.siteId, name: 'A. Reed' });
  const look = await byOffice('/v1/inspections', found(t.own.lineId));
  const foreign = await byOffice('/v1/inspections', found(t.foreign.lineId));
  const status = async (url: string) => (await t.as(key, 'GET', url)).status;
  for (const url of [
    `/v1/sites/${t.own.siteId}`,
    `/v1/lines/${t.own.lineId}`,
    `/v1/pits/${t.own.pitId}`,
    `/v1/contacts/${contact.id}`,
    `/v1/inspections/${look.id}`,
  ])
    expect(await status(url), url).toBe(200);
  for (const url of [
    `/v1/sites/${t.foreign.siteId}`,
    `/v1/lines/${t.foreign.lineId}`,
    `/v1/pits/${t.foreign.pitId}`,
    `/v1/inspections/${foreign.id}`,
  ])
    expect(await status(url), url).toBe(404);
  for (const list of ['sites', 'lines', 'pits', 'contacts', 'inspections', 'cleans'])
    expect(await status(`/v1/${list}`), list).toBe(403);
});

test('of many draw-downs in one batch, each is answered as it stands once all are known', async () => {
  await t.house.stores.rows.update('line', t.own.lineId, { kind: 'sump_discharge' });
  const drawdown = (day: number, phase: string, fall: number) => ({
    lineId: t.own.lineId,
    observedAt: `2026-08-0${day}T12:00:00Z`,
    phase,
    reading: {
      method: 'pit_drawdown',
      rise: { value: 10, unit: 'mm' },
      fall: { value: fall, unit: 'mm' },
    },
  });
  // The reference after the clean comes last in the batch, and first in time.
  const items = [
    drawdown(3, 'no_cleaning', 40),
    drawdown(2, 'no_cleaning', 60),
    drawdown(1, 'after_cleaning', 90),
  ];
  const { items: answered } = await byOffice('/v1/inspections/batch', { items });
  for (const item of answered) {
    const row = await t.house.stores.rows.get('inspection', item.id);
    expect(item.occlusion).toBe(row?.['occlusion']);
  }
  // 50 of 100 mm a minute are left of what the pump moved clean, 70 two days before: the later one is fouled more.
  expect(answered[0].occlusion).toBeGreaterThan(answered[1].occlusion);
});
