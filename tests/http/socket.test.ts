import supertest from 'supertest';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let wire: ReturnType<typeof supertest>;
beforeAll(async () => {
  t = await testHouse();
  await t.app.listen({ host: '127.0.0.1', port: 0 });
  wire = supertest(t.app.server);
});
afterAll(() => t.app.close());

const owner = () => ({ authorization: `Bearer ${t.keys.owner}` });

test('over a real socket: made, read back, unchanged since, gone nowhere', async () => {
  const made = await wire
    .post('/v1/clients')
    .set(owner())
    .send({ name: 'Reed', note: 'zażółć 排水 ≥ ½' })
    .expect(201)
    .expect('content-type', /application\/json/);
  const location = made.get('location') ?? '';
  const read = await wire.get(location).set(owner()).expect(200);
  expect(read.body).toEqual(made.body);
  await wire
    .get(location)
    .set(owner())
    .set('if-none-match', read.get('etag') ?? '')
    .expect(304);
});

test.each([
  ['{"name": "Reed"', 'application/json', 400],
  ['name=Reed', 'application/x-www-form-urlencoded', 415],
  [`{"name": "${'x'.repeat(5_000_000)}"}`, 'application/json', 413],
  ['{"name": "a\\u0000b"}', 'application/json', 400],
  ['{"__proto__": {"name": "Reed"}}', 'application/json', 400],
])('%.30s as %s is refused with %i, as a problem document', async (body, type, status) => {
  const answer = await wire.post('/v1/clients').set(owner()).set('content-type', type).send(body);
  expect(answer.status).toBe(status);
  expect(answer.get('content-type')).toContain('application/problem+json');
  expect(answer.body).toMatchObject({ status, detail: expect.stringMatching(/.{10}/) });
});

test('keys and imports are listed, hashes are not', async () => {
  const keys = await wire.get('/v1/keys').set(owner()).expect(200);
  expect(keys.body.items.map((key: { name: string }) => key.name)).toContain('dispatcher');
  expect(JSON.stringify(keys.body)).not.toContain('hash');
  expect((await wire.get('/v1/imports').set(owner()).expect(200)).body).toEqual({ items: [] });
});
