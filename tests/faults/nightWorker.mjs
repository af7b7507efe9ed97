// One of several instances as a process of its own, as far as the night goes: it takes jobs and watches for runs that
// were left. `node nightWorker.mjs '{"url":…,"now":…,"dieAt":"end:order"}'` kills itself at that point of the night:
// before:STEP between two steps, begin:STEP inside with nothing done yet, end:STEP with all done and not committed.
import { once } from 'node:events';
import { importSource } from '../../prisma/importSource.mjs';

const load = (path) => importSource(path);
const [
  { makeHouse },
  { openPool },
  { businessZone },
  { nightJob, watchLeases },
  { planJob },
  { startWorker },
  { plainTools },
] = await Promise.all(
  [
    'persistence/house.ts',
    'persistence/pool.ts',
    'domain/calendar/businessZone.ts',
    'jobs/night.ts',
    'jobs/plans.ts',
    'jobs/worker.ts',
    'actions/plans/plainTools.ts',
  ].map(load),
);
const { default: pino } = await import('pino');
const { url, now, dieAt = '', waits = false } = JSON.parse(process.argv[2]);
const [when, step] = dieAt.split(':');
const ITERATIONS = 100;

const pool = openPool(url, { connections: 8, onLost: () => undefined });
const log = pino({ level: 'warn' }, pino.destination(2));
const plain = makeHouse(pool, {
  clock: { now: () => new Date(now) },
  zone: businessZone('America/Chicago'),
  units: 'metric',
  currency: 'USD',
  version: 'night',
});
const die = () => process.kill(process.pid, 'SIGKILL');

let isIn = false;
const { rows } = plain.stores;
const update = rows.update.bind(rows);
rows.update = async (table, id, change) => {
  const begins = table === 'nightly_step' && change.state === 'running';
  const name = begins ? (await rows.get(table, id))?.name : undefined;
  if (begins && when === 'before' && name === step) die();
  const row = await update(table, id, change);
  if (begins) isIn = name === step;
  return row;
};
const house = {
  ...plain,
  transact: (actor, work) =>
    plain.transact(actor, async (stores) => {
      if (isIn && when === 'begin') die();
      const done = await work(stores);
      if (isIn && when === 'end') die();
      return done;
    }),
};
// The same question gets the same answer, whatever the machine does beside it.
const tools = {
  ...plainTools,
  search: (ask, ears) => plainTools.search({ ...ask, iterations: ITERATIONS }, ears),
};
const night = { house, log };
console.log('ready');
// Up and idle until it is told to work, so that what is measured is how it takes over, not how it starts.
if (waits) await once(process.stdin, 'data');
await startWorker(
  pool,
  {
    night: nightJob(night, { ROUTE_SECONDS: 1 }, tools),
    plan: async (payload) => {
      await planJob({ house, log, tools }, ITERATIONS)(payload);
      console.log('plan');
    },
  },
  log,
);
watchLeases(night);
setInterval(() => undefined, 1000);
