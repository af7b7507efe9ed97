import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { tell } from '../../src/actions/telling/tell.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
}, 60_000);

const changes = (since?: string) =>
  t.call('dispatcher', { method: 'GET', url: `/v1/changes${since === undefined ? '' : `?since=${since}`}` });
const site = async (address: string) => {
  const { status } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sites',
    payload: { address, town: 'Brindle' },
  });
  expect(status).toBe(201);
};
/** As if all that is there had happened so many days earlier; what the tests laid themselves has the database's time. */
const age = (table: 'change_log' | 'event', days: number) => {
  const at = table === 'event' ? 'created_at' : 'at';
  const now = t.house.clock.now().toISOString();
  return t.pool.query(`UPDATE ${table} SET ${at} = least(${at}, $2) - make_interval(days => $1)`, [
    days,
    now,
  ]);
};
async function night(): Promise<Json> {
  const asked = await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { again: true } });
  expect(asked.status, asked.text).toBe(202);
  await t.work();
  const run = await t.call('owner', { method: 'GET', url: `/v1/nightly-runs/${asked.body.id}` });
  expect(run.body.state, run.text).toBe('done');
  return run.body.steps.find(({ name }: Json) => name === 'tell').counts;
}

test('changes older than the owner keeps are forgotten by the night; who was away for longer is told to read all again', async () => {
  const start = (await changes()).body.next;
  await site('1 Marsh Gate');
  const between = (await changes(start)).body.next;
  await site('2 Marsh Gate');
  const end = (await changes(between)).body.next;
  await age('change_log', 91);
  await site('3 Marsh Gate');
  const last = (await changes()).body.next;
  const forgotten = await night();
  expect(forgotten.changesForgotten).toBeGreaterThanOrEqual(2);
  expect(forgotten).toMatchObject({
    syncItemsForgotten: 0,
    plansForgotten: 0,
    routesForgotten: 0,
    whatIfsForgotten: 0,
    jobsForgotten: 0,
  });

  for (const since of [start, between]) {
    const answer = await changes(since);
    expect(answer).toMatchObject({
      status: 410,
      body: {
        type: '/problems/changes-gone',
        errors: [{ pointer: '#/querystring:since', detail: 'is older than the changes that are kept' }],
      },
    });
    expect(answer.body.errors[0].remedy).toContain('read everything again');
  }
  // Who had heard the last of what is forgotten has missed nothing.
  const heard = await changes(end);
  expect(heard.status).toBe(200);
  expect(heard.body.items.filter(({ resource }: Json) => resource === 'site')).toHaveLength(1);
  expect((await changes(last)).status).toBe(200);
});

test('a log that is forgotten whole still has a place to go on from', async () => {
  const { version } = (await t.call('owner', { method: 'GET', url: '/v1/settings' })).body;
  const kept = await t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    headers: { 'if-match': `"${version}"` },
    payload: { keeping: { changeDays: 10 } },
  });
  expect(kept.status, kept.text).toBe(200);
  await age('change_log', 11);
  await t.house.transact({ name: 'night' }, ({ changes: log }) => log.forgetOld(10));
  expect((await t.pool.query('SELECT FROM change_log')).rowCount).toBe(0);
  const { next } = (await changes()).body;
  await site('4 Marsh Gate');
  expect((await changes(next)).body.items).toMatchObject([{ resource: 'site', op: 'created' }]);
});

test('events go with their deliveries and mails when they are old; what is still on its way stays', async () => {
  const { rows } = t.house.stores;
  await rows.insert('webhook_endpoint', {
    id: randomUUID(),
    url: 'https://hooks.example.org/drains',
    event_types: ['webhook_test'],
    secret: Buffer.from('x'.repeat(32)),
  });
  const [endpoint] = await rows.all('webhook_endpoint', []);
  const eventWith = async (delivery: object | null) => {
    const id = randomUUID();
    await t.house.transact({ name: 'test' }, (stores) =>
      tell(stores, { type: 'webhook_test', subjectId: id, once: id, facts: { askedBy: 'test' } }),
    );
    const [event] = await rows.all('event', [{ column: 'subject_id', is: '=', value: id }]);
    await rows.update('event', String(event?.['id']), { posted_at: new Date().toISOString() });
    if (delivery !== null)
      await rows.insert('webhook_delivery', {
        id: randomUUID(),
        event_id: event?.['id'],
        endpoint_id: endpoint?.['id'],
        ...delivery,
      });
    return String(event?.['id']);
  };
  const done = { state: 'delivered', next_try_at: null, delivered_at: new Date().toISOString(), tries: 1 };
  const old = [await eventWith(done), await eventWith(null)];
  const waiting = await eventWith({ state: 'waiting' });
  await age('event', 401);
  const fresh = await eventWith(done);
  expect((await night()).eventsForgotten).toBeGreaterThanOrEqual(2);
  for (const id of old) expect(await rows.get('event', id)).toBeNull();
  for (const id of [waiting, fresh]) expect(await rows.get('event', id)).not.toBeNull();
  expect(await rows.all('webhook_delivery', [])).toHaveLength(2);
});

test('what a conflict says goes so many days after a person settled it; that there was one stays', async () => {
  const conflict = async (settledDaysAgo: number | null): Promise<string> => {
    const id = randomUUID();
    const at = t.house.clock.now().getTime() - (settledDaysAgo ?? 0) * 86_400_000;
    await t.house.stores.rows.insert('conflict', {
      id,
      resource: 'client',
      resource_id: randomUUID(),
      author: 'Tern',
      content: { name: 'Reed', note: 'key under the pot' },
      settled_at: settledDaysAgo === null ? null : new Date(at).toISOString(),
      settled_by: settledDaysAgo === null ? null : 'office',
    });
    return id;
  };
  const [old, fresh, open] = [await conflict(91), await conflict(89), await conflict(null)];
  expect((await night()).conflictsForgotten).toBe(1);
  const { body } = await t.call('dispatcher', { method: 'GET', url: '/v1/conflicts?limit=200' });
  const contentOf = (id: string) => body.items.find((each: Json) => each.id === id).content;
  expect(contentOf(old)).toBeNull();
  for (const id of [fresh, open]) expect(contentOf(id)).toMatchObject({ note: 'key under the pot' });
  expect((await night()).conflictsForgotten).toBe(0);
});

test('no time is longer than a hundred years: more is refused, and what was kept longer is read as that', async () => {
  const patch = async (payload: object) => {
    const { version } = (await t.call('owner', { method: 'GET', url: '/v1/settings' })).body;
    const headers = { 'if-match': `"${version}"` };
    return t.call('owner', { method: 'PATCH', url: '/v1/settings', headers, payload });
  };
  const refused = await patch({ keeping: { eventDays: 36_501 } });
  expect(refused.status).toBe(400);
  expect(refused.body.errors).toMatchObject([
    {
      pointer: '#/keeping/eventDays',
      detail: expect.stringContaining('a hundred years'),
      remedy: 'at most 36500',
    },
  ]);
  for (const payload of [
    { keeping: { invoiceYears: 101 } },
    { telling: { reminderDays: 36_501 } },
    { firstIntervals: { knownOchreDays: 36_501 } },
  ])
    expect((await patch(payload)).status, JSON.stringify(payload)).toBe(400);
  expect((await patch({ keeping: { eventDays: 36_500 } })).status).toBe(200);
  await t.house.stores.settings.put('keeping', { eventDays: 10_000_000, changeDays: 10_000_000 }, 'earlier');
  expect((await t.call('owner', { method: 'GET', url: '/v1/settings' })).body.settings.keeping).toMatchObject(
    {
      eventDays: 36_500,
      changeDays: 36_500,
    },
  );
  expect(await night()).toMatchObject({ eventsForgotten: 0, changesForgotten: 0, forgettingFailed: 0 });
});

test('what cannot be forgotten ends no night: all is told, and that it failed is counted', async () => {
  await t.pool.query(
    `CREATE FUNCTION no_forgetting() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'not now'; END $$`,
  );
  await t.pool.query(
    'CREATE TRIGGER no_forgetting BEFORE DELETE ON change_log FOR EACH STATEMENT EXECUTE FUNCTION no_forgetting()',
  );
  const counts = await night();
  await t.pool.query('DROP FUNCTION no_forgetting CASCADE');
  expect(counts).toMatchObject({ forgettingFailed: 1, reminders: 0, linesPastLimit: 0 });
  expect(counts).not.toHaveProperty('changesForgotten');
  expect((await night()).forgettingFailed).toBe(0);
});
