import { randomUUID } from 'node:crypto';
import { DatabaseError } from 'pg';
import { beforeAll, expect, test } from 'vitest';
import { buildApp } from '../../src/http/app.js';
import { loggedError, loggedRequest } from '../../src/http/loggedRequest.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
});

/** What must not be found in a log: a client's name, phone, address and mail, and a key. */
const PRIVATE = ['Quillfeather', '555-0147', 'Heronwade', 'quill@example.org'];

test('logs hold no key, name, phone number or address of a client, whatever is asked or refused', async () => {
  const lines: string[] = [];
  const app = await buildApp(t.house, {
    requestsPerMinute: 0,
    logger: {
      level: 'trace',
      redact: ['req.headers.authorization'],
      serializers: { req: loggedRequest, err: loggedError },
      stream: { write: (line: string) => void lines.push(line) },
    },
  });
  const ask = (method: 'GET' | 'POST', url: string, payload?: object, key = t.keys.owner) =>
    app.inject({
      method,
      url,
      headers: { authorization: `Bearer ${key}` },
      ...(payload ? { payload } : {}),
    });
  const client = { id: randomUUID(), name: 'Quillfeather', phone: '555-0147', email: 'quill@example.org' };
  expect((await ask('POST', '/v1/clients', client)).statusCode).toBe(201);
  expect((await ask('POST', '/v1/sites', { address: '3 Heronwade', town: 'Brindle' })).statusCode).toBe(201);
  expect((await ask('POST', '/v1/clients', { ...client, name: 'Quillfeather too' })).statusCode).toBe(409);
  expect((await ask('POST', '/v1/clients', { ...client, phone: 5550147 })).statusCode).toBe(400);
  await ask('GET', '/v1/clients?q=Quillfeather');
  await ask('GET', '/v1/search?q=555-0147');
  await ask('GET', '/v1/sites?town=Heronwade&near=44.1,-90.1');
  await ask('GET', '/v1/clients', undefined, 'a-guess-of-a-key');
  await ask('GET', '/health');
  const { body } = await ask('POST', '/v1/keys', { name: 'Tern', roles: ['dispatcher'] });
  await app.close();
  const log = lines.join('');
  const answered = lines.map((line) => JSON.parse(line)).filter(({ msg }) => msg === 'answered');
  // Whoever keeps watch is not told of at each look.
  expect(answered.find(({ route }) => route === '/health')).toMatchObject({ level: 20 });
  expect(answered).toHaveLength(10);
  expect(answered[0]).toMatchObject({
    level: 30,
    req: { method: 'POST', url: '/v1/clients' },
    res: { statusCode: 201 },
    route: '/v1/clients',
    operation: 'createClient',
    keyId: expect.stringMatching(/^[0-9a-f-]{36}$/),
  });
  expect(answered[7]).toMatchObject({ operation: 'listClients', res: { statusCode: 401 } });
  expect(answered[7]).not.toHaveProperty('keyId');
  for (const word of [...PRIVATE, t.keys.owner, 'a-guess-of-a-key', JSON.parse(body).key as string])
    expect(log, word).not.toContain(word);
  expect(log).toContain('"query":["q"]');
});

test('of an error of the database the log has its code, not the row', () => {
  const error = Object.assign(new DatabaseError('duplicate key value violates a constraint', 1, 'error'), {
    code: '23505',
    detail: 'Key (phone)=(555-0147) already exists.',
    where: 'COPY client, line 3: "Quillfeather"',
  });
  const told = JSON.stringify(loggedError(Object.assign(new Error('the write failed'), { cause: error })));
  expect(told).toContain('23505');
  for (const word of PRIVATE) expect(told).not.toContain(word);
});

test('the name that a trusted proxy gives a request is taken where it is safe, logged and given back', async () => {
  const given = 'edge-7.4_a';
  const lines: string[] = [];
  const doorTrusting = (trustedProxy?: string) =>
    buildApp(t.house, {
      requestsPerMinute: 0,
      logger: { level: 'debug', stream: { write: (line: string) => void lines.push(line) } },
      ...(trustedProxy === undefined ? {} : { trustedProxy }),
    });
  const doors = {
    mixed: await doorTrusting('192.0.2.1, 10.1.0.0/16,2001:db8::/32'),
    none: await doorTrusting(),
  };
  const ask = async (trusts: keyof typeof doors, id: string | string[], remoteAddress = '10.1.2.3') => {
    lines.length = 0;
    const answer = await doors[trusts].inject({
      url: '/v1/crews',
      remoteAddress,
      headers: { 'x-request-id': id },
    });
    const { reqId } = lines.map((line) => JSON.parse(line)).find(({ msg }) => msg === 'answered');
    // What the caller is told, what the problem says and what stands in the log are one.
    expect(answer.statusCode).toBe(401);
    expect(answer.headers['x-request-id']).toBe(reqId);
    expect(answer.json().instance).toBe(reqId);
    return reqId;
  };
  const OURS = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
  for (const from of ['10.1.2.3', '::ffff:10.1.2.3', '2001:db8::5', '192.0.2.1'])
    expect(await ask('mixed', given, from), from).toBe(given);
  expect(await ask('mixed', 'x'.repeat(64))).toBe('x'.repeat(64));
  for (const odd of ['', 'two words', 'a"b', 'x'.repeat(65), '<b>', 'a:b', ['one', 'two']])
    expect(await ask('mixed', odd), String(odd)).toMatch(OURS);
  for (const from of ['10.2.0.1', '192.0.2.2', '2001:db9::5'])
    expect(await ask('mixed', given, from), from).toMatch(OURS);
  expect(await ask('none', given)).toMatch(OURS);
  for (const door of Object.values(doors)) await door.close();
}, 60_000);
