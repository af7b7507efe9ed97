import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { holdsOf, isOthersOwn } from '../../src/actions/erasure/textColumns.js';
import { plantEverywhere, tablesHolding } from '../setup/everyText.js';
import { type PeopleOnBooks, peopleOnBooks } from '../setup/peopleOnBooks.js';

let t: PeopleOnBooks;

beforeAll(async () => {
  t = await peopleOnBooks();
}, 60_000);

test('erased from every text of every table; readings, work and money stay', async () => {
  const own = await t.clientOf('Ottilie Quarmby', '+1 555 010 4477', 'ottilie@example.org');
  await t.add('contact', { client_id: own.clientId, name: 'O. Quarmby', phone: '(555) 010-4477' });
  const shown = await t.photograph(own.siteId, { caption: 'Ottilie Quarmby at the pit' });
  const words = 'told OTTILIE  Quarmby (555-010-4477, Ottilie@example.org) and "Aunt Tilly" of it';
  const { taken, refused } = await plantEverywhere(
    t.pool,
    words,
    // The name and number of another person would stay with that person.
    (table, column) => holdsOf(table, column) === 'people' && !isOthersOwn(table, column),
  );
  // A column that comes new is planted, or this names it.
  expect(refused).toEqual([]);
  expect(taken.length).toBeGreaterThan(150);
  expect(taken).toEqual(
    expect.arrayContaining([
      'change_log.actor',
      'event.facts',
      'idempotency_key.body',
      'inspection.raw',
      'plan.to_phone',
      'route_publication.stops',
      'sync_item.content',
      'trend.due_reasons',
    ]),
  );
  const PATTERN = 'ottilie|quarmby|aunt tilly|555.{0,2}010.{0,2}4477';
  expect((await tablesHolding(t.pool, PATTERN)).length).toBeGreaterThan(50);
  const ask = {
    person: 'client',
    personId: own.clientId,
    words: ['Aunt Tilly', 'O. Quarmby'],
    photographs: true,
  };

  // A key that was used is a change of its own.
  const everything = async () =>
    (await tablesHolding(t.pool, '.')).filter((table) => !/change_log|access_key/.test(table));
  const before = await everything();
  const look = await t.post('/dry-run', ask);
  expect(look.status, look.text).toBe(200);
  expect(look.body.records.map(({ resource }: { resource: string }) => resource)).toEqual([
    'client',
    'contact',
  ]);
  expect(look.body.texts.length).toBeGreaterThan(150);
  expect(look.body.photographs).toEqual([shown.id]);
  expect(look.body.blockedBy).toEqual([]);
  expect(look.body.kept.find(({ what }: { what: string }) => what === 'readings')).toMatchObject({
    count: 1,
  });
  expect(look.body.elsewhere.join(' ')).toContain('Backups');
  expect(await everything()).toEqual(before);
  expect((await t.get('client', own.clientId))['name']).toBe('Ottilie Quarmby');

  const key = { 'idempotency-key': randomUUID() };
  const done = await t.post('', ask, key);
  expect(done.status, done.text).toBe(201);
  expect(done.body.erased).toMatchObject({ records: { client: 1, contact: 1 }, photographs: 1 });
  expect(await tablesHolding(t.pool, PATTERN)).toEqual([]);
  expect((await t.post('', ask, key)).body.id).toBe(done.body.id);

  expect(await t.get('client', own.clientId)).toMatchObject({
    name: '[erased]',
    phone: null,
    email: null,
    archived_on: '2026-10-01',
  });
  expect(await t.get('inspection', own.inspectionId)).toMatchObject({
    occlusion: 0.3,
    line_id: own.lineId,
    note: '[erased] held the torch',
  });
  expect((await t.get('site_client', own.ownedId))['to_day']).toBe('2026-10-01');
  expect(await t.house.files?.store.size(shown.key)).toBeNull();
  expect(await t.get('attachment', shown.id)).toMatchObject({ caption: null, archived_on: '2026-10-01' });
  const search = await t.call('owner', { method: 'GET', url: '/v1/search?q=quarmby' });
  expect(search.body.items).toEqual([]);
  const proof = await t.call('owner', { method: 'GET', url: `/v1/erasures?personId=${own.clientId}` });
  expect(proof.body.items).toMatchObject([{ id: done.body.id, doneBy: 'owner' }]);
}, 120_000);

test('names of places and things and the service’s own numbers stay, and what stands there of the person is told', async () => {
  const own = await t.clientOf('Leopold Anstruther', '555 010 6688');
  const words = 'by (555) 010-6688';
  const { taken } = await plantEverywhere(
    t.pool,
    words,
    (table, column) => holdsOf(table, column) !== 'people',
  );
  expect(taken).toEqual(expect.arrayContaining(['site.town', 'crew.name', 'trend.components', 'rain.area']));
  const before = await tablesHolding(t.pool, '010.-6688');
  const done = await t.post('', { person: 'client', personId: own.clientId });
  expect(done.status, done.text).toBe(201);
  expect(await tablesHolding(t.pool, '010.-6688')).toEqual(before);
  const told = new Set(
    done.body.toLookAt.map(({ resource, field }: Record<string, string>) => `${resource}.${field}`),
  );
  for (const column of taken) {
    const [table = '', name = ''] = column.split('.');
    expect(told.has(column), column).toBe(holdsOf(table, name) !== 'ours');
  }
}, 120_000);
