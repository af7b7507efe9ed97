import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { createKey } from '../../src/actions/createKey.js';
import { buildApp } from '../../src/http/app.js';
import { ANSWERS, DOOR_ANSWERS } from '../../src/http/problemAnswers.js';
import { DAY, idOf, layFieldDay, TERN } from '../setup/fieldDay.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';
import { commandsOf, differences, faultsOf, missingRows } from './guide.js';

const GUIDES = ['firstDay.md', 'conventions.md'] as const;
const guideText = (name: string) => readFileSync(join(import.meta.dirname, '../../openapi', name), 'utf8');

let t: TestHouse;
let photograph: Buffer;
let variables: Record<string, string>;

/** Ids the guides name: those on the books, and those an app would choose. */
const ON_BOOKS = {
  MEMBER: TERN,
  ROUTE: idOf('route'),
  SITE: idOf('site 0'),
  LINE: idOf('footing 0'),
  PIT: idOf('pit 0'),
  SYSTEM: idOf('system 0'),
  ORDER: idOf('order 0'),
  TASK: idOf('footing clean 0'),
  NEXT_ORDER: idOf('order 1'),
  NEXT_LINE: idOf('footing 1'),
  NEXT_SITE: idOf('site 1'),
};
const CHOSEN = [
  'WAY',
  'INSPECTION',
  'CLEAN',
  'START',
  'LOOK',
  'RESULT',
  'NOTE',
  'FINISH',
  'PICTURE',
  'CLIENT',
];

beforeAll(async () => {
  t = await testHouse(`${DAY}T20:00:00Z`);
  const { rows } = t.house.stores;
  await layFieldDay(rows, 2);
  await rows.update('site', ON_BOOKS.SITE, { access_notes: 'gate on the left, mind the dog' });
  await rows.insert('access_point', {
    id: idOf('cleanout'),
    site_id: ON_BOOKS.SITE,
    line_id: ON_BOOKS.LINE,
    kind: 'cleanout',
    place: 'behind the hedge, under a round lid',
    distance_m: 4,
    distance_from: 'the outlet',
  });
  for (const name of ['Ines Calder', 'Rowan Reed']) await rows.insert('client', { id: idOf(name), name });
  const technician = await t.house.transact({ name: 'test' }, (stores) =>
    createKey(stores, { name: 'Tern', roles: ['technician'], memberId: TERN, expiresAt: null }),
  );
  photograph = await sharp({ create: { width: 64, height: 48, channels: 3, background: '#8a4b00' } })
    .jpeg()
    .toBuffer();
  // With its limit of requests, as it is served.
  const app = await buildApp(t.house, { checkAnswers: true });
  await app.listen({ host: '127.0.0.1', port: 0 });
  afterAll(() => app.close());
  variables = {
    URL: `http://127.0.0.1:${(app.server.address() as AddressInfo).port}`,
    KEY: technician.key,
    OFFICE_KEY: t.keys.dispatcher,
    OWNER_KEY: t.keys.owner,
    ...ON_BOOKS,
    ...Object.fromEntries(CHOSEN.map((name) => [name, idOf(name)])),
  };
}, 120_000);

test.each(GUIDES)('openapi/%s: every command answers what the guide shows beneath it', async (name) => {
  expect(commandsOf(guideText(name)).length).toBeGreaterThan(10);
  const folder = mkdtempSync(join(tmpdir(), 'openbore-guide-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  writeFileSync(join(folder, 'photo.jpg'), photograph);
  const faults = await faultsOf(guideText(name), folder, variables);
  expect(faults.join('\n')).toBe('');
});

test('conventions.md lists every kind of refusal with its status, and none besides', () => {
  const rows = [...guideText('conventions.md').matchAll(/^\| `([a-z-]+)` +\| (\d{3}) /gm)];
  const listed = Object.fromEntries(rows.map(([, kind, status]) => [kind, Number(status)]));
  const known = Object.entries({ ...ANSWERS, ...DOOR_ANSWERS });
  expect(listed).toEqual(Object.fromEntries(known.map(([kind, { status }]) => [kind, status])));
});

test('beyond the limit of requests comes 429 with Retry-After, as conventions.md says', async () => {
  const app = await buildApp(t.house, { requestsPerMinute: 1 });
  const ask = () => app.inject({ url: '/v1/me', headers: { authorization: `Bearer ${t.keys.dispatcher}` } });
  expect((await ask()).statusCode).toBe(200);
  const refused = await ask();
  expect(refused.json()).toMatchObject({ type: '/problems/too-many-requests', status: 429 });
  expect(Number(refused.headers['retry-after'])).toBeGreaterThan(0);
  await app.close();
});

test('an answer that is not what is shown is found', () => {
  expect(differences({ a: [1, '…'], b: '…' }, { a: [1, 2], b: null, c: 3 })).toEqual([]);
  expect(differences({ a: [1], b: '…', c: { d: 1 } }, { a: [1, 2], c: { d: 2 } })).toEqual([
    '/a has 2 items',
    '/b is missing',
    '/c/d is 2, not 1',
  ]);
  expect(missingRows('id,name,…\nx,y', 'id,name,note\nx,z')).toEqual(['x,y']);
});
