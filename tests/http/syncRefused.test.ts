import { beforeEach, expect, test } from 'vitest';
import { DAY, idOf, keysOfCrew, layFieldDay, TERN, WREN } from '../setup/fieldDay.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** A refused item holds the finish that names it, whatever refused it; three ways on. */
let t: TestHouse;
let keys: Map<string, string>;
const of = (what: string) => idOf(`${what} 0`);
const order = { workOrderId: of('order') };
const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 12, minute)).toISOString();

beforeEach(async () => {
  t = await testHouse(`${DAY}T23:00:00Z`);
  await layFieldDay(t.house.stores.rows, 2);
  keys = await keysOfCrew(t.house);
}, 60_000);

async function send(items: object[], by = TERN): Promise<Json[]> {
  const answer = await t.app.inject({
    method: 'POST',
    url: '/v1/sync',
    headers: { authorization: `Bearer ${keys.get(by)}` },
    payload: { sentAt: `${DAY}T23:00:00Z`, items },
  });
  expect(answer.statusCode, answer.body).toBe(200);
  return answer.json().items;
}
const outcomes = async (items: object[], by = TERN): Promise<string[]> =>
  (await send(items, by)).map(({ outcome }) => outcome);
async function giveUp(id: string, by: string): Promise<number> {
  const answer = await t.app.inject({
    method: 'POST',
    url: `/v1/sync-items/${id}/withdrawal`,
    headers: { authorization: `Bearer ${keys.get(by)}` },
    payload: { because: 'told by phone' },
  });
  return answer.statusCode;
}
const stateOfOrder = async () => (await t.house.stores.rows.get('work_order', of('order')))?.['state'];

const start = { kind: 'start', id: of('s'), at: at(0), ...order, cautionsSeen: true };
/** A line of another house: a rule refuses it. */
const work = (lineId = idOf('footing 1')) => ({
  kind: 'found_work',
  id: of('fw'),
  at: at(12),
  ...order,
  tasks: [{ id: of('ft'), kind: 'hose_flush', lineId }],
});
/** An unknown word: its form refuses it. */
const look = (word = 'rather full') => ({
  kind: 'inspection',
  id: of('look'),
  at: at(10),
  ...order,
  lineId: of('footing'),
  phase: 'before_cleaning',
  reading: { method: 'by_word', word },
});
const finish = (...after: string[]) => ({
  kind: 'finish',
  id: of('f'),
  at: at(60),
  ...order,
  after,
  result: 'done',
  flowProven: 'yes',
  pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
  water: { receiver: 'own_ground', place: 'lawn' },
});

test('an item refused by its form or by a rule holds the finish until both are put right', async () => {
  const all = finish(of('s'), of('look'), of('fw'));
  const answers = await send([start, look(), work(), all]);
  expect(answers.map(({ outcome }) => outcome)).toEqual(['accepted', 'refused', 'refused', 'waiting']);
  expect([...answers[3].waitsFor].sort()).toEqual([`item:${of('look')}`, `item:${of('fw')}`].sort());
  expect(await stateOfOrder()).toBe('under_way');
  expect(await outcomes([look('half')])).toEqual(['accepted']);
  expect(await stateOfOrder()).toBe('under_way');
  expect(await outcomes([work(of('footing')), all])).toEqual(['accepted', 'accepted']);
  expect(await stateOfOrder()).toBe('done');
  expect(await t.house.stores.rows.get('work_order_task', of('ft'))).toMatchObject({ result: 'done' });
});

test('a finish sent again waits for what it named each time, in whatever order; with other content it is a conflict', async () => {
  const all = finish(of('s'), of('look'), of('fw'));
  expect(await outcomes([start, look(), work(), all])).toEqual(['accepted', 'refused', 'refused', 'waiting']);
  expect(await outcomes([finish(of('s'), of('fw')), all])).toEqual(['waiting', 'waiting']);
  expect(await outcomes([{ ...finish(of('s')), flowProven: 'no' }])).toEqual(['conflict']);
  expect(await outcomes([finish(of('s'))])).toEqual(['accepted']);
  expect(await outcomes([all])).toEqual(['same']);
  expect(await stateOfOrder()).toBe('done');
});

test('who sent an item gives it up, the office anybody’s: the finish goes on at once', async () => {
  const all = finish(of('s'), of('look'), of('fw'));
  await send([start, work(), look('half'), all]);
  expect(await giveUp(of('fw'), WREN)).toBe(404);
  expect(await stateOfOrder()).toBe('under_way');
  expect(await giveUp(of('fw'), TERN)).toBe(200);
  expect(await stateOfOrder()).toBe('done');
  expect(await outcomes([work()])).toEqual(['withdrawn']);
  expect(await giveUp(of('fw'), TERN)).toBe(409);

  const foreign = { kind: 'note', id: of('n'), at: at(1), siteId: idOf('nowhere'), text: 'gate' };
  expect(await outcomes([foreign])).toEqual(['refused']);
  const { status } = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/sync-items/${of('n')}/withdrawal`,
    payload: { because: 'of another house' },
  });
  expect(status).toBe(200);
});
