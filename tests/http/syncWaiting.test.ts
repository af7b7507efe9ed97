import { beforeAll, expect, test } from 'vitest';
import { createKey } from '../../src/actions/createKey.js';
import { DAY, idOf, layFieldDay, TERN } from '../setup/fieldDay.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** An app that loses what its items rest on: bounded, and no burden for what comes later. */
let t: TestHouse;
let key: string;

beforeAll(async () => {
  t = await testHouse(`${DAY}T23:00:00Z`);
  await layFieldDay(t.house.stores.rows, 1);
  ({ key } = await t.house.transact({ name: 'test' }, (stores) =>
    createKey(stores, { name: 'Tern', roles: ['technician'], memberId: TERN, expiresAt: null }),
  ));
}, 60_000);

async function send(items: object[]): Promise<Json[]> {
  const answer = await t.app.inject({
    method: 'POST',
    url: '/v1/sync',
    headers: { authorization: `Bearer ${key}` },
    payload: { sentAt: `${DAY}T23:00:00Z`, items },
  });
  expect(answer.statusCode, answer.body).toBe(200);
  return answer.json().items;
}
const note = (name: string, ...after: string[]) => ({
  kind: 'note',
  id: idOf(name),
  at: new Date(Date.UTC(2026, 9, 1, 12, 0, Number(name.replace(/\D/g, '')))).toISOString(),
  siteId: idOf('site 0'),
  text: 'gate',
  after: after.map(idOf),
});
const count = (items: Json[], outcome: string) => items.filter((item) => item.outcome === outcome).length;

test('a thousand items of a person wait, more are refused, the latest first; what comes still settles its own', async () => {
  const lost = Array.from({ length: 990 }, (_, i) => note(`lost ${i}`, 'never', 'chain 1'));
  expect(count(await send(lost.slice(0, 500)), 'waiting')).toBe(500);
  expect(count(await send(lost.slice(500)), 'waiting')).toBe(490);

  const more = Array.from({ length: 12 }, (_, i) => note(`more ${i}`, 'never'));
  const answers = await send([...more].reverse());
  expect(count(answers, 'waiting')).toBe(10);
  const refused = answers.filter((item) => item.outcome === 'refused');
  expect(refused.map((item) => item.id).sort()).toEqual([idOf('more 10'), idOf('more 11')].sort());
  expect(refused[0].problem.errors[0]).toMatchObject({
    pointer: '#/after',
    detail: expect.stringContaining('1000 of your items wait'),
    remedy: expect.stringContaining('withdrawal'),
  });

  // Among so many waiting, an ordinary one is done, and so is a chain that comes last first, call by call.
  expect(count(await send([note('plain 1')]), 'accepted')).toBe(1);
  await t.pool.query(`DELETE FROM sync_item WHERE id = ANY ($1)`, [more.map(({ id }) => id)]);
  expect(count(await send([note('chain 3', 'chain 2')]), 'waiting')).toBe(1);
  expect(count(await send([note('chain 2', 'chain 1')]), 'waiting')).toBe(1);
  expect(count(await send([note('chain 1')]), 'accepted')).toBe(1);
  const { rows } = await t.pool.query('SELECT state FROM sync_item WHERE id = ANY ($1)', [
    [idOf('chain 2'), idOf('chain 3')],
  ]);
  expect(rows).toEqual([{ state: 'accepted' }, { state: 'accepted' }]);
  const [one] = (await t.pool.query(`SELECT waits_for FROM sync_item WHERE id = $1`, [lost[0]?.id])).rows;
  expect(one.waits_for).toEqual([`item:${idOf('never')}`]);

  expect(count(await send(lost.slice(0, 1)), 'waiting')).toBe(1);
  expect(count(await send([note('never')]), 'accepted')).toBe(1);
  const left = await t.pool.query(`SELECT count(*)::int AS n FROM sync_item WHERE state = 'waiting'`);
  expect(left.rows[0].n).toBe(0);
}, 120_000);
