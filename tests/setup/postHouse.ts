import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { pino } from 'pino';
import { afterAll } from 'vitest';
import type { Outgoing } from '../../src/actions/outgoing.js';
import type { Mailer } from '../../src/actions/telling/mailer.js';
import { postJobs } from '../../src/jobs/post.js';
import { workOnce } from '../../src/jobs/worker.js';
import { readAllowed } from '../../src/outside/addressRules.js';
import { outgoingCalls } from '../../src/outside/outgoing.js';
import type { TestHouse } from './testHouse.js';

export const LOOPBACK = readAllowed('127.0.0.1');

export interface Received {
  headers: Record<string, string>;
  body: string;
}

/** A receiver of webhooks on loopback; `answer` decides what it says to each. */
export async function receiver(
  answer: (received: Received, response: ServerResponse) => void = (_, response) =>
    void response.writeHead(204).end(),
) {
  const got: Received[] = [];
  const server = createServer((request: IncomingMessage, response: ServerResponse) => {
    const parts: Buffer[] = [];
    request.on('data', (part: Buffer) => parts.push(part));
    request.on('end', () => {
      const headers = request.headers as Record<string, string>;
      const received = { headers, body: Buffer.concat(parts).toString() };
      got.push(received);
      answer(received, response);
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  afterAll(() => {
    server.closeAllConnections();
    server.close();
  });
  return { url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/hook`, got };
}

/** Works on the jobs of the post that are due now. */
export const workPost = (
  t: TestHouse,
  {
    mailer = null,
    outgoing = outgoingCalls({ allowed: LOOPBACK }),
  }: { mailer?: Mailer | null; outgoing?: Outgoing } = {},
): Promise<void> => {
  const log = pino({ level: 'silent' });
  return workOnce(t.pool, postJobs({ house: t.house, log, outgoing, mailer }), log);
};

/** As if the waits were over: what waits for its next try, and its job, is due now. */
export async function hurry(t: TestHouse): Promise<void> {
  await t.pool.query(
    `UPDATE webhook_delivery SET next_try_at = now(), lease_until = NULL WHERE state = 'waiting'`,
  );
  await t.pool.query(`UPDATE mail SET next_try_at = now() WHERE state = 'waiting'`);
  await t.pool.query(`UPDATE graphile_worker._private_jobs SET run_at = now() WHERE locked_at IS NULL`);
}
