import { chmodSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import { pino } from 'pino';
import { askPlan } from '../../src/actions/plans/askPlan.js';
import { migrateJobs } from '../../src/jobs/worker.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { DAY, differences, houseOn, Instances, layBooks, nightWithKill, POINTS } from './nightKills.js';

// A night with several instances on one database: killed at every point, the others end it, with its real leases.

const { values } = parseArgs({
  options: {
    instances: { type: 'string', default: '2,4' },
    points: { type: 'string', default: POINTS.join(',') },
    houses: { type: 'string', default: '12' },
    plans: { type: 'string', default: '24' },
  },
});
const TAKEN_WITHIN_S = 60;
const root = process.cwd();
const script = join(root, 'tests/faults/nightWorker.mjs');
const work = mkdtempSync(join(tmpdir(), 'openbore-nights-'));
chmodSync(work, 0o755); // as root the database runs as another user
mkdirSync(join(work, 'data'));
const server = await startEmbedded({ folder: join(work, 'data') });
const admin = openPool(server.url('postgres'), { connections: 1 });
let red = 0;
try {
  await admin.query('CREATE DATABASE books');
  const books = openPool(server.url('books'));
  await migrate(books, join(root, 'prisma/migrations'));
  await migrateJobs(books, pino({ level: 'silent' }));
  await layBooks(books, Number(values.houses));
  await books.end();
  const whole = await night('', 1);
  console.log(
    `uninterrupted: ${whole.state}; ${Object.values(whole.tables).reduce((n, rows) => n + rows.length, 0)} rows in ${Object.keys(whole.tables).length} tables`,
  );
  console.log('instances  killed at        taken over after  runs  ends   as uninterrupted');
  for (const count of values.instances.split(',').map(Number))
    for (const point of values.points.split(',')) {
      const killed = await night(point, count - 1);
      const off = [...differences(whole.tables, killed.tables), ...differences(killed.tables, whole.tables)];
      const isGood =
        killed.runs === 1 &&
        killed.state === 'done' &&
        off.length === 0 &&
        killed.takenAfterS <= TAKEN_WITHIN_S;
      if (!isGood) red += 1;
      console.log(
        `${String(count).padStart(9)}  ${point.padEnd(15)} ${killed.takenAfterS.toFixed(1).padStart(15)} s  ${killed.runs}     ${killed.state.padEnd(6)} ${off.length === 0 ? 'yes' : `NO\n  ${off.slice(0, 4).join('\n  ')}`}`,
      );
    }
  for (const count of values.instances.split(',').map(Number)) await shared(count);
} finally {
  await admin.end();
  await server.stop();
  rmSync(work, { recursive: true, force: true });
}
console.log(red === 0 ? 'green' : `RED: ${red}`);
process.exitCode = red === 0 ? 0 : 1;

async function database(): Promise<string> {
  await admin.query('DROP DATABASE IF EXISTS scene WITH (FORCE)');
  await admin.query('CREATE DATABASE scene TEMPLATE books');
  return server.url('scene');
}

async function night(point: string, others: number) {
  const url = await database();
  const pool = openPool(url, { onLost: () => undefined });
  try {
    return await nightWithKill({ pool, url, script }, point, others, false);
  } finally {
    await pool.end();
  }
}

/** Plans asked for at once: how many each instance has searched. */
async function shared(count: number): Promise<void> {
  const url = await database();
  const pool = openPool(url, { onLost: () => undefined });
  const instances = new Instances(script, url);
  const house = houseOn(pool);
  for (let n = 0; n < count; n++) await instances.start();
  for (let n = 0; n < Number(values.plans); n++)
    await house.transact({ name: 'test' }, (stores) =>
      askPlan(house, stores, {
        fromDay: DAY,
        workingDays: 1,
        seed: n,
        searchSeconds: 1,
        because: 'test',
        askedBy: 'test',
        urgent: true,
      }),
    );
  const done = () => instances.plans.reduce((sum, n) => sum + n, 0);
  for (const end = Date.now() + 120_000; done() < Number(values.plans) && Date.now() < end; )
    await sleep(200);
  console.log(
    `${count} instances, ${values.plans} plans asked for at once: searched ${instances.plans.join(', ')}`,
  );
  if (done() !== Number(values.plans)) red += 1;
  instances.end();
  await pool.end();
}
