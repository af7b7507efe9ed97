import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { SENT_AT, type SyncedHouse, syncedHouse } from '../setup/syncedHouse.js';
import type { Json } from '../setup/testHouse.js';

/** A client's no to a price: the work stands on record as not done, and the visit ends. */
let t: SyncedHouse;

beforeEach(async () => {
  t = await syncedHouse();
}, 60_000);

const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 14, minute)).toISOString();
const item = (kind: string, minute: number, more: object) => ({
  kind,
  id: randomUUID(),
  at: at(minute),
  workOrderId: t.orderId,
  ...more,
});
async function post(path: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.as(t.key, 'POST', `/v1/work-orders/${t.orderId}/${path}`, payload);
  expect(answer.status, JSON.stringify(answer.body)).toBe(status);
  return answer.body;
}
const ofOwner = async (url: string): Promise<Json> => (await t.call('owner', { method: 'GET', url })).body;
const order = () => ofOwner(`/v1/work-orders/${t.orderId}`);
const report = async () =>
  (
    await t.call('owner', {
      method: 'GET',
      url: `/v1/work-orders/${t.orderId}/report`,
      headers: { accept: 'text/html' },
    })
  ).text;
const flush = (priceMinor = 9500) => ({
  id: randomUUID(),
  kind: 'hose_flush',
  lineId: t.own.lineId,
  priceMinor,
});
const ENDED = { flowProven: 'yes', water: { receiver: 'own_ground', place: 'lawn' } };

test.each([
  ['as it happened', false],
  ['turned round and item by item', true],
])('a price declined offline lets the visit end, told %s', async (_, turned) => {
  const task = flush();
  const begun = item('start', 0, {});
  const work = item('found_work', 10, { tasks: [task] });
  const no = item('price_acceptance', 12, {
    taskId: task.id,
    by: 'Ines Calder',
    amountMinor: 9500,
    declined: true,
  });
  const end = item('finish', 50, { after: [begun.id, work.id, no.id], result: 'done', ...ENDED });
  if (turned) for (const each of [end, no, work, begun]) await t.sync([each]);
  else await t.sync([begun, work, no, end]);
  const { state, tasks } = await order();
  expect(state).toBe('done');
  expect(tasks.at(-1)).toMatchObject({
    id: task.id,
    result: 'not_done',
    reason: 'refused',
    priceMinor: 9500,
    acceptedBy: null,
    declinedBy: 'Ines Calder',
  });
  expect((await ofOwner(`/v1/cleans?workOrderId=${t.orderId}`)).items).toEqual([]);
  expect(await report()).toMatch(
    /not done \(it was not wanted\)\. Found while there, [^,]*95[^,]*, declined by .*Ines Calder/,
  );
  // A no to what the visit was over without comes too late.
  const late = { ...no, id: randomUUID() };
  expect((await t.sync([late]))[0].outcome).toBe('conflict');
});

test('a no after a yes counts, and a yes after a no; what was declined does not come back', async () => {
  await post('start', { startedAt: at(0) }, 200);
  const { items } = await post('found-work', {
    foundAt: at(5),
    tasks: [flush(), { ...flush(4000), kind: 'survey' }],
    accepted: { by: 'Ines Calder', at: at(6) },
  });
  const [first, second] = items.map(({ id }: Json) => id);
  const say = (taskId: string, minute: number, declined: boolean) =>
    post('price-acceptances', {
      taskId,
      by: 'Ines Calder',
      amountMinor: 9000,
      acceptedAt: at(minute),
      ...(declined ? { declined } : {}),
    });
  expect(await say(first, 8, true)).toMatchObject({ taskId: first, declined: true });
  // Said before, heard after: the later stands.
  await say(first, 7, false);
  await say(second, 8, true);
  await say(second, 9, false);
  const now = new Map((await order()).tasks.map((task: Json) => [task.id, task]));
  expect(now.get(first)).toMatchObject({ result: 'not_done', reason: 'refused', declinedBy: 'Ines Calder' });
  expect(now.get(second)).toMatchObject({ result: null, reason: null, declinedBy: null, priceMinor: 9000 });
  await post('finish', { endedAt: at(40), result: 'partly', reason: 'out_of_time', ...ENDED }, 200);
  const { items: orders } = await ofOwner(`/v1/work-orders?siteId=${t.own.siteId}&cause=return_work`);
  const back = await ofOwner(`/v1/work-orders/${orders[0].id}`);
  expect(back.tasks.map(({ kind }: Json) => kind).sort()).toEqual(['inspect', 'survey']);
});

test('found work is declined at its own address at once; said both ways it is refused', async () => {
  await post('start', { startedAt: at(0) }, 200);
  const said = { by: 'Ines Calder', at: at(6) };
  const both = await post(
    'found-work',
    { foundAt: at(5), tasks: [flush()], accepted: said, declined: said },
    422,
  );
  expect(both.errors).toMatchObject([{ pointer: '#/declined' }]);
  const { items } = await post('found-work', { foundAt: at(5), tasks: [flush()], declined: said });
  expect(items).toMatchObject([{ result: 'not_done', reason: 'refused', declinedBy: 'Ines Calder' }]);
  const sheet = await t.call('owner', {
    method: 'GET',
    url: `/v1/routes/${t.routeId}/sheet`,
    headers: { accept: 'text/html' },
  });
  expect([sheet.text.includes('inspect'), sheet.text.includes('flush with the hose')]).toEqual([true, false]);
  // The visit ends otherwise, and is driven again: not for what was declined.
  await post('finish', { endedAt: at(40), result: 'not_done', reason: 'kit', ...ENDED }, 200);
  const { state, tasks } = await order();
  expect([state, tasks.map(({ result }: Json) => result)]).toEqual(['wanted', [null, 'not_done']]);
});

test('a declined quote keeps the order waiting for it, by sync as well, until somebody takes it', async () => {
  const quote = await t.house.stores.rows.insert('precondition', {
    id: randomUUID(),
    work_order_id: t.orderId,
    kind: 'quote_accepted',
    facts: { lines: 'all' },
  });
  const price = (minute: number, declined: boolean) =>
    item('price_acceptance', minute, { by: 'Ines Calder', amountMinor: 42_000, declined });
  const begun = item('start', 5, {});
  const [no, waiting] = await t.sync([price(1, true), begun]);
  expect(no.outcome).toBe('accepted');
  expect(waiting).toMatchObject({ outcome: 'waiting', waitsFor: [`quote:${t.orderId}`] });
  expect(await t.house.stores.rows.get('precondition', String(quote['id']))).toMatchObject({
    state: 'open',
    facts: { lines: 'all', declinedBy: 'Ines Calder', amountMinor: 42_000 },
  });
  const [yes] = await t.sync([price(2, false)]);
  expect(yes.outcome).toBe('accepted');
  expect(await order()).toMatchObject({ state: 'under_way', priceMinor: 42_000 });
  expect(Date.parse(SENT_AT)).toBeGreaterThan(Date.parse(at(5)));
});
