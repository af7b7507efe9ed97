import { once } from 'node:events';
import { type AddressInfo, connect } from 'node:net';
import { setImmediate as turn } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { buildApp } from '../../src/http/app.js';
import { testHouse } from '../setup/testHouse.js';

test('a service that stops answers what comes over open connections, ends these, and says that it is not ready', async () => {
  const t = await testHouse();
  const app = await buildApp(t.house, { requestsPerMinute: 0 });
  let letGo: () => void = () => undefined;
  let isIn: () => void = () => undefined;
  const held = new Promise<void>((resolve) => {
    letGo = resolve;
  });
  const came = new Promise<void>((resolve) => {
    isIn = resolve;
  });
  app.get('/slow', { config: { roles: 'public' }, schema: { hide: true } }, async () => {
    isIn();
    await held;
    return {};
  });
  await app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = app.server.address() as AddressInfo;
  const ask = async (path: string) => {
    const answer = await fetch(`http://127.0.0.1:${port}${path}`);
    return [answer.status, answer.headers.get('connection'), await answer.json()];
  };
  expect(await ask('/ready')).toEqual([200, 'keep-alive', { status: 'ready' }]);
  const slow = ask('/slow');
  await came;
  const stopping = app.drain().then(() => app.close());
  expect(await ask('/ready')).toEqual([503, 'close', { status: 'stopping' }]);
  expect(await ask('/health')).toEqual([200, 'close', { status: 'up' }]);
  letGo();
  expect(await slow).toEqual([200, 'close', {}]);
  await stopping;
  await expect(ask('/health')).rejects.toThrow();
}, 60_000);

test('what comes over a connection while it closes is answered, not turned away', async () => {
  const t = await testHouse();
  const app = await buildApp(t.house, { requestsPerMinute: 0 });
  await app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = app.server.address() as AddressInfo;
  const accepted = once(app.server, 'connection');
  const socket = connect(port, '127.0.0.1').setEncoding('utf8');
  await accepted;
  const closed = app.close();
  while (app.server.listening) await turn();
  socket.write('GET /v1/crews HTTP/1.1\r\nhost: here\r\n\r\n');
  let answer = '';
  for await (const part of socket) answer += part;
  expect(answer).toMatch(/^HTTP\/1\.1 401 /);
  expect(answer).toMatch(/^connection: close$/im);
  await closed;
}, 60_000);
