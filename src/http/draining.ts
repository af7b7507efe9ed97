import { setTimeout as sleep } from 'node:timers/promises';
import type { FastifyInstance } from 'fastify';

declare module 'fastify' {
  interface FastifyInstance {
    /**
     * Before it closes: each answer says that its connection is at an end, and /ready that callers are to go elsewhere,
     * so that nobody's next request meets a connection that is just being closed. At once where nobody asks anything.
     */
    drain(): Promise<void>;
    isDraining(): boolean;
  }
}

const DRAIN_MS = 1_000;

export function drains(app: FastifyInstance): void {
  let draining = false;
  let lastAskedAt = Number.NEGATIVE_INFINITY;
  app.addHook('onRequest', async () => {
    lastAskedAt = performance.now();
  });
  app.addHook('onSend', async (_request, reply) => {
    if (draining) reply.header('connection', 'close');
  });
  app.decorate('isDraining', () => draining);
  app.decorate('drain', async () => {
    draining = true;
    if (performance.now() - lastAskedAt < DRAIN_MS) await sleep(DRAIN_MS);
  });
}
