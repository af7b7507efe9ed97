import { randomUUID } from 'node:crypto';
import { type AddressInfo, connect } from 'node:net';
import supertest from 'supertest';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { buildApp } from '../../src/http/app.js';
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

/** What comes back for bytes as they are; `hangUp`: the caller goes away once they are sent. */
function raw(port: number, bytes: string, hangUp = false): Promise<string> {
  return new Promise((done, failed) => {
    let answer = '';
    const socket = connect(port, '127.0.0.1', () =>
      socket.write(bytes, () => hangUp && setTimeout(() => socket.destroy(), 100)),
    );
    socket
      .on('data', (part) => {
        answer += part.toString();
      })
      .on('close', () => done(answer))
      .on('error', failed);
  });
}
const portOf = (app: TestHouse['app']) => (app.server.address() as AddressInfo).port;
const posted = (path: string, headers: Record<string, string | number>, body: string) =>
  [
    `POST ${path} HTTP/1.1`,
    'host: here',
    ...Object.entries({ ...owner(), ...headers }).map(([name, value]) => `${name}: ${value}`),
    '',
    body,
  ].join('\r\n');
const JSON_TYPE = { 'content-type': 'application/json' };

test.each([
  ['a length below zero', -5, '{"name": "Reed"}', 400],
  ['a length that is no number', 'x', '{"name": "Reed"}', 400],
  ['a length below that of the body', 9, '{"name": "Reed"}', 400],
  ['headers without end', `1\r\nx-long: ${'x'.repeat(20_000)}`, '{}', 431],
])('%s is refused with a problem document', async (_what, length, body, status) => {
  const answer = await raw(
    portOf(t.app),
    posted('/v1/clients', { ...JSON_TYPE, 'content-length': length }, body),
  );
  const [head = '', told = ''] = answer.split('\r\n\r\n');
  expect(head).toContain(`HTTP/1.1 ${status} `);
  expect(head).toContain('content-type: application/problem+json');
  expect(JSON.parse(told)).toMatchObject({ type: '/problems/bad-request', status });
  expect(answer).not.toContain('Client Error');
});

test('a body that the caller breaks off is no error of ours in the log', async () => {
  const lines: { level: number; msg: string; res?: { statusCode: number } }[] = [];
  const app = await buildApp(t.house, {
    logger: { level: 'info', stream: { write: (line: string) => void lines.push(JSON.parse(line)) } },
  });
  await app.listen({ host: '127.0.0.1', port: 0 });
  const form = { 'content-type': 'multipart/form-data; boundary=b', 'content-length': 90_000 };
  const part = '--b\r\ncontent-disposition: form-data; name="file"; filename="a.jpg"\r\n\r\nabc';
  await raw(
    portOf(app),
    posted('/v1/clients', { ...JSON_TYPE, 'content-length': 900 }, '{"name": "Ree'),
    true,
  );
  await raw(
    portOf(app),
    posted(`/v1/attachments/${randomUUID()}/file`, form, part).replace('POST', 'PUT'),
    true,
  );
  await expect
    .poll(() => lines.filter(({ msg }) => /caller went away/.test(msg)).length, { timeout: 20_000 })
    .toBe(2);
  await app.close();
  expect(lines.filter(({ level }) => level >= 50)).toEqual([]);
  expect(lines.filter(({ res }) => (res?.statusCode ?? 0) >= 500)).toEqual([]);
});

test('keys and imports are listed, hashes are not', async () => {
  const keys = await wire.get('/v1/keys').set(owner()).expect(200);
  expect(keys.body.items.map((key: { name: string }) => key.name)).toContain('dispatcher');
  expect(JSON.stringify(keys.body)).not.toContain('hash');
  expect((await wire.get('/v1/imports').set(owner()).expect(200)).body).toEqual({ items: [] });
});
