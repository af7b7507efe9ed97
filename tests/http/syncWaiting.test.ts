import { beforeAll, expect, test } from 'vitest';
import { createKey } from '../../src/actions/createKey.js';
import { tellWaiting } from '../../src/actions/telling/syncWaiting.js';
import type { IsoDate } from '../../src/domain/calendar/isoDate.js';
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

test('the office hears once a day whose items are older than a day and still wait', async () => {
  expect(count(await send([note('held 5', 'away'), note('held 3', 'away')]), 'waiting')).toBe(2);
  const tellOn = async (now: string, day: string) =>
    t.house.transact({ name: 'night' }, (stores) =>
      tellWaiting({ ...t.house, clock: { now: () => new Date(now) } }, stores, day as IsoDate),
    );
  const told = async () =>
    (await t.call('dispatcher', { method: 'GET', url: '/v1/events?type=sync_waiting' })).body.items;
  await tellOn('2026-10-02T11:59:00Z', '2026-10-02');
  expect(await told()).toEqual([]);
  await tellOn('2026-10-02T12:30:00Z', '2026-10-02');
  await tellOn('2026-10-02T13:30:00Z', '2026-10-02');
  expect(await told()).toMatchObject([
    {
      subjectId: idOf('held 3'),
      facts: { author: 'Tern', items: 2, happenedOn: DAY },
      text: "2 items from Tern's app, the oldest of 2026-10-01, wait for what has not come: see the items that wait, and ask Tern.",
    },
  ]);
  await tellOn('2026-10-03T13:30:00Z', '2026-10-03');
  expect(await told()).toHaveLength(2);
}, 60_000);
