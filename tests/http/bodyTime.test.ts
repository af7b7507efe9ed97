import { randomUUID } from 'node:crypto';
import { type AddressInfo, connect } from 'node:net';
import { setTimeout as pause } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { buildApp } from '../../src/http/app.js';
import { BODY_TIMES, type BodyTimes } from '../../src/http/bodyTime.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
}, 60_000);
afterAll(() => t.app.close());

async function portOf(times: Partial<BodyTimes>): Promise<{ port: number; close: () => Promise<void> }> {
  const app = await buildApp(t.house, {
    requestsPerMinute: 0,
    bodyTimes: { ...BODY_TIMES, lookMs: 50, ...times },
  });
  await app.listen({ host: '127.0.0.1', port: 0 });
  return { port: (app.server.address() as AddressInfo).port, close: () => app.close() };
}

/** Sends a head, then what `parts` gives with pauses between; what comes back until the other side hangs up. */
async function trickle(
  port: number,
  head: string[],
  parts: readonly (string | Buffer)[],
  pauseMs: number,
): Promise<string> {
  const socket = connect(port, '127.0.0.1');
  let answer = '';
  const over = new Promise<void>((done) => socket.on('close', () => done()).on('error', () => done()));
  socket.on('data', (part) => {
    answer += part.toString();
    if (answer.includes('\r\n\r\n')) socket.end();
  });
  socket.write(
    `${[...head, 'host: here', `authorization: Bearer ${t.keys.technician}`].join('\r\n')}\r\n\r\n`,
  );
  for (const part of parts) {
    if (socket.destroyed || !socket.writable) break;
    socket.write(part);
    await pause(pauseMs);
  }
  await over;
  return answer;
}

const fileHead = (bytes: number): string[] => [
  `PUT /v1/attachments/${randomUUID()}/file HTTP/1.1`,
  'content-type: multipart/form-data; boundary=b',
  `content-length: ${bytes}`,
];
const form = (content: Buffer): Buffer =>
  Buffer.concat([
    Buffer.from('--b\r\ncontent-disposition: form-data; name="file"; filename="a.pdf"\r\n\r\n'),
    content,
    Buffer.from('\r\n--b--\r\n'),
  ]);
const statusOf = (answer: string) => Number(/^HTTP\/1\.1 (\d{3})/.exec(answer)?.[1]);

test('a file that keeps coming may take longer than any other body, which may not', async () => {
  const { port, close } = await portOf({ bodyMs: 600 });
  const body = form(Buffer.from(`%PDF-1.4\n% ${'x'.repeat(2000)}\n%%EOF\n`));
  const step = Math.ceil(body.length / 10);
  const parts = Array.from({ length: 10 }, (_, i) => body.subarray(i * step, (i + 1) * step));
  const taken = await trickle(port, fileHead(body.length), parts, 150);
  expect(statusOf(taken), taken).toBe(200);

  const head = ['POST /v1/notes HTTP/1.1', 'content-type: application/json', 'content-length: 1000'];
  const late = await trickle(port, head, Array(400).fill(' '), 150);
  expect(statusOf(late)).toBe(408);
  const requestId = /^x-request-id: (\S+)\r$/m.exec(late)?.[1];
  expect(requestId).toBeDefined();
  expect(JSON.parse(late.split('\r\n\r\n')[1] ?? '')).toMatchObject({
    status: 408,
    instance: requestId,
    detail: expect.stringContaining('too slowly'),
  });
  await close();
}, 120_000);

test.each([
  ['none of its bytes come for a while', { silentMs: 300 }, ['--b\r\n'], 10],
  [
    'it comes at less than so much a second',
    { stretchMs: 500, stretchBytes: 10_000 },
    Array(2000).fill('x'),
    50,
  ],
  ['it takes too long altogether', { fileMs: 500 }, Array(2000).fill('x'), 50],
])(
  'a file is given up with 408 when %s',
  async (_what, times, parts, pauseMs) => {
    const { port, close } = await portOf(times);
    const answer = await trickle(port, fileHead(100_000), parts, pauseMs);
    expect(statusOf(answer), answer).toBe(408);
    await close();
  },
  120_000,
);

test.each([
  ['whose key is missing', fileHead(100_000), 401],
  ['at an address that cannot be read', ['PUT /%zz HTTP/1.1', 'content-length: 100000'], 400],
])(
  'who was refused already is not listened to for as long as a file: %s',
  async (_who, head, status) => {
    const { port, close } = await portOf({ bodyMs: 300 });
    const socket = connect(port, '127.0.0.1');
    let answer = '';
    socket.on('data', (part) => {
      answer += part.toString();
    });
    const over = new Promise<void>((done) => socket.on('close', () => done()).on('error', () => undefined));
    socket.write(`${[...head, 'host: here'].join('\r\n')}\r\n\r\n`);
    const drip = setInterval(() => socket.writable && socket.write('x'), 50);
    await over;
    clearInterval(drip);
    expect(statusOf(answer)).toBe(status);
    await close();
  },
  120_000,
);
