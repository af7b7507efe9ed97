import { randomUUID } from 'node:crypto';
import Fastify from 'fastify';
import type { House } from '../../../src/actions/house.js';
import { runNight } from '../../../src/actions/night/runNight.js';
import { businessZone } from '../../../src/domain/calendar/businessZone.js';
import { buildApp } from '../../../src/http/app.js';
import { loggedError, loggedRequest } from '../../../src/http/loggedRequest.js';
import { makeHouse } from '../../../src/persistence/house.js';
import { openPool } from '../../../src/persistence/pool.js';
import { listenTo, replay, type Said } from './replay.js';
import { DAY, type Ground, type Request, WORK } from './work.js';

// A server process of the bench: `ours`, whole, with keys, schemas, headers and logging; `bare`, a Fastify handler that
// sends the statements which ours was heard to send and JSON.stringify; or `night`, one night after another.

interface Order {
  mode: 'ours' | 'bare' | 'night';
  url: string;
  key: string;
  work: string;
  ground: Ground;
}

const order = JSON.parse(process.argv[2] ?? '') as Order;
const tell = (message: object): void => void process.send?.(message);
process.on('message', () => tell({ cpu: process.cpuUsage() }));
process.on('disconnect', () => process.exit(0));

const pool = openPool(order.url, { onLost: () => undefined });
const heard = order.mode === 'bare' ? listenTo(pool) : { said: [] as Said[], listens: false };
const house: House = makeHouse(pool, {
  clock: { now: () => new Date(`${DAY}T12:00:00Z`) },
  zone: businessZone('America/Chicago'),
  units: 'metric',
  currency: 'USD',
  version: 'bench',
});
const silent = { write: () => undefined };

if (order.mode === 'ours') {
  const app = await buildApp(house, {
    requestsPerMinute: 1_000_000,
    logger: { level: 'info', serializers: { req: loggedRequest, err: loggedError }, stream: silent },
  });
  tell({ url: await app.listen({ host: '127.0.0.1', port: 0 }) });
} else if (order.mode === 'bare') {
  tell({ url: await bare() });
} else {
  tell({ url: '' });
  for (;;)
    await runNight(house, {
      businessDay: DAY,
      askedBy: 'bench',
      holder: randomUUID(),
      again: true,
      routeSeconds: 1,
    });
}

/** Hears what one request makes ours say, and says the same for every request. */
async function bare(): Promise<string> {
  const app = await buildApp(house, { requestsPerMinute: 0 });
  const make = WORK[order.work];
  if (!make) throw new RangeError(`no work ${order.work}`);
  const once = async (request: Request) => {
    heard.said.length = 0;
    const answer = await app.inject({
      method: request.method,
      url: request.path,
      headers: { authorization: `Bearer ${order.key}` },
      ...(request.body ? { payload: request.body as object } : {}),
    });
    if (answer.statusCode >= 300) throw new Error(`${request.path}: ${answer.body}`);
    return answer.json() as unknown;
  };
  await once(make(order.ground)); // looks the key up
  const sample = make(order.ground);
  const from = Date.now();
  const answered = await once(sample);
  const said = [...heard.said];
  heard.listens = false;
  const old = JSON.stringify(sample.body ?? {});
  const answer = Fastify();
  const handler = async ({ body }: { body: unknown }) => {
    const renewal = renewalOf(old, JSON.stringify(body ?? {}), from);
    const client = await pool.connect();
    try {
      const rows = await replay(client, said, renewal);
      return JSON.stringify(sample.method === 'GET' ? rows : answered);
    } finally {
      client.release();
    }
  };
  answer.get('/*', handler);
  answer.post('/*', handler);
  return answer.listen({ host: '127.0.0.1', port: 0 });
}

const NEW = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}|\d{4}-\d\d-\d\dT[\d:.]+Z/g;

/** What of the sample stands for what of the request; ids that ours made itself are new each time. */
function renewalOf(sample: string, request: string, heardFrom: number): (old: string) => string | undefined {
  const [from, to] = [sample.match(NEW) ?? [], request.match(NEW) ?? []];
  const pairs = new Map(from.map((each, i) => [each, to[i] ?? each]));
  const known = new Set([order.ground.lineId, order.ground.siteId, order.ground.crewId]);
  return (old) => {
    const at = pairs.get(old);
    if (at !== undefined || known.has(old) || !isMadeSince(old, heardFrom)) return at;
    const fresh = randomUUID();
    pairs.set(old, fresh);
    return fresh;
  };
}

/** Whether an id of version 7, which holds its time, was made since. */
const isMadeSince = (id: string, from: number): boolean =>
  id[14] === '7' && Number.parseInt(id.slice(0, 8) + id.slice(9, 13), 16) >= from;
