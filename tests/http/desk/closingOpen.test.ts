import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { type RoutedHouse, routedHouse } from '../../setup/routedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: RoutedHouse;
let key: string;
const DAY = '2026-10-01';
const NOW = '2026-10-01T20:00:00Z';
const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 14, minute)).toISOString();

beforeEach(async () => {
  t = await routedHouse(DAY, NOW);
  key = await t.keyOf('Tern');
}, 60_000);

/** A finish that waits for a lost item, a look of wrong form, and a note whose id came twice. */
async function phones(): Promise<{ end: string; wrong: string; lost: string }> {
  const [end, wrong, lost, note] = [randomUUID(), randomUUID(), randomUUID(), randomUUID()];
  const order = { workOrderId: t.orderId };
  const noted = { kind: 'note', id: note, at: at(20), siteId: t.own.siteId, ...order };
  const items = [
    { kind: 'finish', id: end, at: at(50), ...order, after: [lost], result: 'done', flowProven: 'yes' },
    { kind: 'inspection', id: wrong, at: at(10), ...order, lineId: t.own.lineId, phase: 'never' },
    { ...noted, text: 'gate key' },
  ];
  for (const sent of [items, [{ ...noted, text: 'another key' }]]) {
    const answer = await t.as(key, 'POST', '/v1/sync', { sentAt: NOW, items: sent });
    expect(answer.status, JSON.stringify(answer.body)).toBe(200);
  }
  return { end, wrong, lost };
}

/** A call to be answered an hour ago, one by this evening, one tomorrow. */
async function calls(): Promise<string[]> {
  const ids: string[] = [];
  for (const respondBy of ['2026-10-01T19:00:00Z', '2026-10-01T23:00:00Z', '2026-10-02T15:00:00Z']) {
    const id = randomUUID();
    await t.house.stores.rows.insert('work_order', {
      id,
      site_id: t.own.siteId,
      cause: 'call',
      minutes: 60,
      respond_by: respondBy,
    });
    ids.push(id);
  }
  return ids;
}

const shown = ({ onPhones }: Json) =>
  onPhones.map(({ id, kind, state, number }: Json) => [id, kind, state, number !== null]);

test('the day and its closing name what phones hold and which calls are on no route', async () => {
  const { end, wrong, lost } = await phones();
  const [late, evening] = await calls();
  const day = await t.call('dispatcher', { method: 'GET', url: `/v1/days/${DAY}` });
  expect(day.status, day.text).toBe(200);
  const closed = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/days/${DAY}/closing`,
    payload: { leaveRunning: true },
  });
  expect(closed.status, closed.text).toBe(200);
  for (const { body } of [day, closed]) {
    expect(shown(body)).toEqual([
      [wrong, 'inspection', 'refused', true],
      [end, 'finish', 'waiting', true],
      [expect.any(String), 'note', 'conflict', false],
    ]);
    expect(body.onPhones[0].text).toContain('#/phase');
    expect(body.onPhones[1].text).toContain(lost);
    expect(body.onPhones[2].text).toBe('the id came before with other content');
    expect(body.callsOpen).toMatchObject([
      { workOrderId: late, overdue: true, respondBy: '2026-10-01T19:00:00.000Z' },
      { workOrderId: evening, overdue: false },
    ]);
  }
  // The crew's own stand with its route, marked not done there.
  const [route] = closed.body.items;
  expect(route.notDone).toMatchObject([{ workOrderId: t.orderId }]);
  expect(shown(route)).toEqual([
    [wrong, 'inspection', 'refused', true],
    [end, 'finish', 'waiting', true],
  ]);
});

test('closing one route names them too; another day is not held up by them', async () => {
  const { end } = await phones();
  await calls();
  const [route] = (await t.call('dispatcher', { method: 'GET', url: `/v1/routes?day=${DAY}` })).body.items;
  const { status, body } = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/routes/${route.id}/closing`,
    payload: { leaveRunning: true },
  });
  expect(status, JSON.stringify(body)).toBe(200);
  expect(body.onPhones.map(({ id }: Json) => id)).toContain(end);
  expect(body.callsOpen).toHaveLength(2);
  const before = await t.call('dispatcher', { method: 'GET', url: '/v1/days/2026-09-30' });
  expect(before.body).toMatchObject({ onPhones: [], callsOpen: [] });
});
