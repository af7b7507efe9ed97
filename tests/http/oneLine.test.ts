import { afterAll, beforeAll, expect, test } from 'vitest';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
}, 60_000);
afterAll(() => t.app.close());

const post = (url: string, payload: object, headers = {}) =>
  t.call('owner', { method: 'POST', url, payload, headers });

test.each([
  ['a\r\nBcc: x@y.example', 'a line break (U+000D) at character 2'],
  ['Reed\u2028Marsh', 'a line break (U+2028) at character 5'],
  ['a\u202egnp.exe', 'a direction mark, which makes other text look turned round (U+202E) at character 2'],
  ['Reed \u2067Marsh', 'a direction mark, which makes other text look turned round (U+2067) at character 6'],
  [
    'a\u202egnp\u202c.exe',
    'a direction mark, which makes other text look turned round (U+202E) at character 2',
  ],
  ['Reed\u001b[2J', 'a control character (U+001B) at character 5'],
])('a name of one line takes none of what breaks, turns or steers it: %j', async (name, what) => {
  const answer = await post('/v1/clients', { name });
  expect(answer.status).toBe(400);
  expect(answer.body.errors).toMatchObject([
    {
      pointer: '#/name',
      detail: expect.stringContaining(`holds ${what}`),
      remedy: expect.stringMatching(/^one line of plain text/),
    },
  ]);
  // What is told of it turns nothing round either.
  expect(answer.text).not.toMatch(/[\u202e\u200f\u2028]/);
});

test.each([
  ['/v1/clients', { name: 'Reed', phone: '555\n0100' }, '#/phone'],
  ['/v1/sites', { address: '1 Marsh Gate\n', town: 'Brindle' }, '#/address'],
  ['/v1/sites', { address: '1 Marsh Gate', town: 'Brin\u2066dle' }, '#/town'],
  ['/v1/crews', { name: 'Tern\u0085' }, '#/name'],
])('so are phones, addresses and towns, at %s', async (url, payload, pointer) => {
  const answer = await post(url, payload);
  expect(answer.status).toBe(400);
  expect(answer.body.errors.map((each: { pointer: string }) => each.pointer)).toContain(pointer);
});

test('letters of every script and notes of many lines come in as they are', async () => {
  const name = 'Zażółć 排水 أنابيب Łukasz O’Reed-Marsh';
  const made = await post('/v1/clients', { name, note: 'first line\r\nsecond line\u200f' });
  expect(made.status, made.text).toBe(201);
  expect(made.body).toMatchObject({ name, note: 'first line\r\nsecond line\u200f' });
});

test.each([
  ['\u202a+1 555 0100\u202c', '+1 555 0100'],
  ['+1 \u200e555\u202d 0100', '+1 555 0100'],
  ['555\t0100\t', '555 0100'],
])('a phone comes in without what came along as it was copied: %j', async (phone, kept) => {
  const made = await post('/v1/clients', { name: 'Reed', phone });
  expect(made.status, made.text).toBe(201);
  expect(made.body.phone).toBe(kept);
});

test.each([
  ['\u200fשלום\u200f', 'שלום'],
  ['\u2068Reed\u2069', 'Reed'],
  ['שלום (a\u200f) בע"מ', 'שלום (a\u200f) בע"מ'],
  ['Reed \u2067שלום\u2069 Ltd', 'Reed \u2067שלום\u2069 Ltd'],
  ['\u202aA\u202c and \u202aB\u202c', '\u202aA\u202c and \u202aB\u202c'],
])(
  'a name keeps the marks within it that turn nothing else, and loses those around it: %j',
  async (name, kept) => {
    const made = await post('/v1/clients', { name });
    expect(made.status, made.text).toBe(201);
    expect(made.body.name).toBe(kept);
  },
);

test('pairs within pairs without end are too long, and looked into no further', async () => {
  const name = `${'\u202a'.repeat(20_000)}a${'\u202c'.repeat(20_000)}`;
  for (const body of [
    { name },
    { name: 'Reed', phone: name },
    { name: `${'\u200e'.repeat(100_000)}a\u200e.` },
  ]) {
    const answer = await post('/v1/clients', body);
    expect([answer.status, answer.body.type]).toEqual([400, '/problems/bad-request']);
  }
});

test('nothing but marks is no name', async () => {
  expect((await post('/v1/clients', { name: '\u200f\u200e' })).status).toBe(400);
});

test('an address that was taken with a break in it goes round, until it is changed', async () => {
  const made = await post('/v1/sites', { address: '12 Oak Row', town: 'Brindle' });
  const { id } = made.body;
  const address = '12 Oak Row\nUnit 3';
  await t.pool.query('UPDATE site SET address = $2 WHERE id = $1', [id, address]);
  const batch = (item: object) => post('/v1/sites/batch', { items: [{ id, ...item }] });
  expect((await batch({ address })).body).toMatchObject({ unchanged: 1 });
  expect((await batch({ address, town: 'Wexley' })).body).toMatchObject({ changed: 1 });
  const refused = await batch({ address: '12 Oak Row\nUnit 4' });
  expect(refused.status).toBe(400);
  expect(refused.body.errors).toMatchObject([
    {
      pointer: '#/items/0/address',
      detail: expect.stringContaining('a line break (U+000A) at character 11'),
    },
  ]);
});

test('a table of records is refused as a whole, by row and field', async () => {
  const answer = await post('/v1/clients/batch', { items: [{ name: 'Reed' }, { name: 'Reed\u202e' }] });
  expect(answer.status).toBe(400);
  expect(answer.body.errors[0].pointer).toBe('#/items/1/name');
});
