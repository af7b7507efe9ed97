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
  ['\u200fReed', 'a direction mark, which makes other text look turned round (U+200F) at character 1'],
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
  ['/v1/clients', { name: 'Reed', phone: '555\t0100' }, '#/phone'],
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

test('a table of records is refused as a whole, by row and field', async () => {
  const answer = await post('/v1/clients/batch', { items: [{ name: 'Reed' }, { name: 'Reed\u202e' }] });
  expect(answer.status).toBe(400);
  expect(answer.body.errors[0].pointer).toBe('#/items/1/name');
});
