import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { beforeAll, expect, test } from 'vitest';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

const DAY = '2026-10-01';
const NOW = `${DAY}T14:00:00Z`;
/** So many minutes from now, by our clock. */
const at = (minutes: number) => new Date(Date.parse(NOW) + minutes * 60_000).toISOString();

let t: RoutedHouse;
let tern: string;
let wren: string;
let stops = 1;
beforeAll(async () => {
  t = await routedHouse(DAY, NOW);
  tern = await t.keyOf('Tern');
  wren = await t.keyOf('Wren', await memberOfCrew('Wren'));
}, 60_000);

async function memberOfCrew(name: string): Promise<string> {
  const { rows } = t.house.stores;
  const id = randomUUID();
  const [crew] = await rows.all('crew', []);
  await rows.insert('member', { id, name });
  await rows.insert('crew_membership', {
    id: randomUUID(),
    crew_id: crew?.['id'],
    member_id: id,
    from_day: '2026-01-01',
  });
  return id;
}

/** Another order of the crew's route, ten minutes' drive away. */
async function order(): Promise<string> {
  const { rows } = t.house.stores;
  const id = randomUUID();
  await rows.insert('work_order', {
    id,
    site_id: t.own.siteId,
    cause: 'due',
    minutes: 60,
    state: 'placed',
  });
  await rows.insert('stop', {
    id: randomUUID(),
    route_id: t.routeId,
    position: ++stops,
    travel_s: 600,
    travel_m: 8000,
    kind: 'visit',
    work_order_id: id,
    arrives_at: NOW,
    starts_at: NOW,
    ends_at: at(60),
    live: true,
  });
  return id;
}

const onTheWay = (workOrderId: string, minutes: number, more: object = {}) => ({
  kind: 'on_the_way',
  id: randomUUID(),
  at: at(minutes),
  workOrderId,
  ...more,
});
const late = (workOrderId: string, minutes: number, expected: number) => ({
  kind: 'running_late',
  id: randomUUID(),
  at: at(minutes),
  workOrderId,
  expectedAt: at(expected),
});
const start = (workOrderId: string, minutes: number) => ({
  kind: 'start',
  id: randomUUID(),
  at: at(minutes),
  workOrderId,
  cautionsSeen: true,
});

async function sync(items: object[], key = tern, sentAt = NOW): Promise<Json[]> {
  const { status, body } = await t.as(key, 'POST', '/v1/sync', { sentAt, items });
  expect(status, JSON.stringify(body)).toBe(200);
  return body.items;
}
const outcomes = async (...asked: Parameters<typeof sync>) =>
  (await sync(...asked)).map(({ outcome }) => outcome);
const told = async (workOrderId: string): Promise<Json[]> =>
  (await t.call('dispatcher', { method: 'GET', url: `/v1/events?workOrderId=${workOrderId}&sort=at` })).body
    .items;

test('brought in by both of a crew, the way is told once', async () => {
  const id = await order();
  const said = onTheWay(id, -5);
  expect(await outcomes([said])).toEqual(['accepted']);
  expect(await outcomes([said, onTheWay(id, -4)])).toEqual(['same', 'accepted']);
  expect(await outcomes([onTheWay(id, -6)], wren)).toEqual(['accepted']);
  expect(await told(id)).toMatchObject([
    { type: 'on_the_way', facts: { leftAt: at(-5), expectedAt: at(5), expectedTime: '09:05' } },
  ]);
});

test('whoever is there already is told of by nobody, whether its start comes before or beside it', async () => {
  const beside = await order();
  expect(await outcomes([start(beside, -1), late(beside, -9, 10), onTheWay(beside, -11)])).toEqual([
    'accepted',
    'accepted',
    'accepted',
  ]);
  expect(await told(beside)).toEqual([]);

  const before = await order();
  await sync([start(before, -1)]);
  expect(await outcomes([onTheWay(before, -11), late(before, -9, 10)])).toEqual(['accepted', 'accepted']);
  expect(await told(before)).toEqual([]);

  // Nobody was home: the order waits again, and the crew that drove to it is still not on its way.
  const again = await order();
  await sync([start(again, -10)]);
  const ended = { result: 'not_done', reason: 'no_one_home' };
  await sync([{ kind: 'finish', id: randomUUID(), at: at(-8), workOrderId: again, after: [], ...ended }]);
  expect((await t.house.stores.rows.get('work_order', again))?.['state']).toBe('wanted');
  await sync([onTheWay(again, -20)]);
  expect((await told(again)).map(({ type }) => type)).toEqual(['work_finished']);
});

test('what is of no use any more is told to nobody: a drive long over, a time that is past, an older word', async () => {
  const id = await order();
  // Ten minutes' drive and a quarter of an hour more are over.
  expect(await outcomes([onTheWay(id, -26)])).toEqual(['accepted']);
  expect(await outcomes([late(id, -30, -1)])).toEqual(['accepted']);
  expect(await told(id)).toEqual([]);
  expect(await outcomes([late(id, -10, 30), late(id, -5, 40)])).toEqual(['accepted', 'accepted']);
  expect(await outcomes([late(id, -8, 35), onTheWay(id, -7)], wren)).toEqual(['accepted', 'accepted']);
  // To the minute the same is the same.
  expect(await outcomes([{ ...late(id, -1, 40), expectedAt: at(40.5) }], wren)).toEqual(['accepted']);
  expect((await told(id)).map(({ facts }) => facts.expectedAt)).toEqual([at(40)]);

  // At its own address, where somebody waits for the answer, it is refused.
  const old = await t.as(tern, 'POST', `/v1/work-orders/${await order()}/on-the-way`, { leftAt: at(-26) });
  expect(old).toMatchObject({ status: 422, body: { errors: [{ pointer: '#/leftAt' }] } });
});

test('times of a wrong clock are set right, and what makes no sense is refused by field', async () => {
  const id = await order();
  // An hour ahead: left at 14:56 by that phone, 13:56 by our clock.
  expect(await outcomes([onTheWay(id, 56, { expectedAt: at(75) })], tern, at(60))).toEqual(['accepted']);
  expect((await told(id))[0].facts).toMatchObject({ leftAt: at(-4), expectedAt: at(15) });

  const [ahead, backwards, nowhere] = await sync([
    onTheWay(id, 30),
    late(id, -5, -6),
    onTheWay(randomUUID(), -5),
  ]);
  expect(ahead).toMatchObject({ outcome: 'refused', problem: { errors: [{ pointer: '#/at' }] } });
  expect(backwards).toMatchObject({ problem: { errors: [{ pointer: '#/expectedAt' }] } });
  expect(nowhere).toMatchObject({ outcome: 'refused', problem: { status: 404 } });
  const [foreign] = await sync([onTheWay(t.foreignOrderId, -5)]);
  expect(foreign).toMatchObject({ outcome: 'refused', problem: { status: 403 } });
});

test('in any order, doubled and split into calls: nothing is told twice, nothing once the crew is there', async () => {
  await fc.assert(
    fc.asyncProperty(
      fc.shuffledSubarray([0, 1, 2, 3, 0, 1, 2, 3], { minLength: 8 }),
      fc.array(fc.integer({ min: 1, max: 7 }), { maxLength: 4 }),
      async (shuffled, cuts) => {
        const id = await order();
        const items = [onTheWay(id, -12), late(id, -8, 20), late(id, -6, 25), start(id, -1)];
        const sent = shuffled.map((i) => items[i] as (typeof items)[number]);
        const ends = [...new Set([...cuts, sent.length])].sort((a, b) => a - b);
        let toldBefore = 0;
        let isThere = false;
        for (const [i, end] of ends.entries()) {
          const call = sent.slice(ends[i - 1] ?? 0, end);
          for (const outcome of await outcomes(call)) expect(['accepted', 'same']).toContain(outcome);
          isThere ||= call.some(({ kind }) => kind === 'start');
          const now = await told(id);
          if (isThere) expect(now).toHaveLength(toldBefore);
          toldBefore = now.length;
        }
        const texts = (await told(id)).map(({ text }) => text);
        expect(new Set(texts).size).toBe(texts.length);
        expect(await t.house.stores.rows.get('work_order', id)).toMatchObject({
          state: 'under_way',
          started_at: at(-1),
        });
      },
    ),
    { numRuns: 15, endOnFailure: true, seed: 7 },
  );
}, 120_000);
