import { chmodSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import { readBackup } from '../../src/files/backupFolder.js';
import { backup } from '../../src/persistence/backup.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { openPool } from '../../src/persistence/pool.js';
import { restore } from '../../src/persistence/restore.js';
import { earlyDoor } from './earlyDoor.js';
import { Service } from './service.js';
import { judge } from './verdict.js';
import { type Door, newLedger, write } from './writers.js';

// The built service and its durable database as real processes, killed and cut with writes in flight; then every
// acknowledged write is looked for: after each round of kills, and at the end with a night, a backup and its restoring.
// Exit 0: all there, once. With --control the door acknowledges before it knows, and the checks must find what is
// lost: exit 0 only then. The next fault comes once a drawn number of writes was acknowledged since the last one.

const { values } = parseArgs({
  options: {
    kills: { type: 'string', default: '100' },
    seconds: { type: 'string', default: '600' },
    writers: { type: 'string', default: '12' },
    least: { type: 'string', default: '30' },
    most: { type: 'string', default: '90' },
    round: { type: 'string', default: '50' },
    only: { type: 'string', default: '' },
    seed: { type: 'string', default: '1' },
    control: { type: 'boolean', default: false },
    keep: { type: 'boolean', default: false },
  },
});
const root = process.cwd();
const work = mkdtempSync(join(tmpdir(), 'openbore-faults-'));
chmodSync(work, 0o755); // as root the database runs as another user
const folder = join(work, 'data');
mkdirSync(folder);

/** Each runs the fault and says how many processes it killed. */
const all: { name: string; run: () => Promise<number> | number }[] = [
  { name: 'service killed', run: () => killed(true, false) },
  { name: 'database killed', run: () => killed(false, true) },
  { name: 'database killed', run: () => killed(false, true) },
  { name: 'both killed', run: () => killed(true, true) },
  { name: 'both killed', run: () => killed(true, true) },
  { name: 'connections cut', run: cut },
  { name: 'database frozen', run: frozen },
];
const faults = all.filter(({ name }) => name.includes(values.only));
const chance = chanceOf(Number(values.seed));
const service = new Service(join(root, 'dist/cli.js'), folder, await freePort());
const key = service.key('dispatcher');
service.start();
if (!(await service.ready(120_000))) throw new Error('the service did not start');
const front = values.control ? await earlyDoor(service.port) : null;
const direct = `http://127.0.0.1:${service.port}`;
const door: Door = {
  url: front ? `http://127.0.0.1:${(front.address() as AddressInfo).port}` : direct,
  key,
  lineIds: await newLines(),
};

/** A loaded machine takes over a minute to start the service. */
const PATIENCE_MS = 180_000;
const MOST_PAUSE_MS = 10_000;
const ledger = newLedger();
const began = Date.now();
let until = began + Number(values.seconds) * 1000;
for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => (until = 0));
const tallies = new Map(
  faults.map(({ name }) => [name, { times: 0, kills: 0, idle: 0, inFlight: 0, slowestS: 0 }]),
);
let kills = 0;
let toldAt = 0;
for (let round = 1; kills < Number(values.kills) && Date.now() < until; round++) {
  let going = true;
  const writers = Array.from({ length: Number(values.writers) }, (_, i) =>
    write(door, ledger, `w${round}.${i}`, () => going),
  );
  const roundEnds = Math.min(Number(values.kills), round * Number(values.round));
  while (kills < roundEnds && Date.now() < until && (await oneFault())) tell();
  going = false;
  await Promise.all(writers);
  await sayRound();
}
await night();
await service.stop();
front?.close();

const server = await startEmbedded({ folder });
const pool = openPool(server.url());
const verdict = await judge(pool, ledger);
const drill = await drilled();
await pool.end();
await server.stop();
if (!values.keep) rmSync(work, { recursive: true, force: true });

console.log('fault              times  kills  with none in flight  in flight (mean)  slowest until ready');
for (const [name, { times, kills: killed, idle, inFlight, slowestS }] of tallies)
  console.log(
    `${name.padEnd(17)} ${String(times).padStart(6)} ${String(killed).padStart(6)} ${String(idle).padStart(20)} ${(inFlight / Math.max(1, times)).toFixed(1).padStart(17)} ${`${slowestS.toFixed(1)} s`.padStart(20)}`,
  );
console.log(
  `kills ${kills} in ${Math.round((Date.now() - began) / 1000)} s, service started ${service.starts} times; sent ${ledger.attempts}, of these ${ledger.late} late copies and ${ledger.early} ahead of their turn; acknowledged ${ledger.acknowledged}`,
);
console.log(
  `refused: ${[...ledger.refusals]
    .sort(([a], [b]) => a - b)
    .map(([status, n]) => `${status} ${n} times`)
    .join(', ')}`,
);
for (const [what, found] of Object.entries(verdict) as [string, string[]][])
  console.log(`${what} ${found.length}${found.length > 0 ? `: ${found.slice(0, 5).join('; ')}` : ''}`);
console.log(`every constraint holds: ${drill}`);
console.log(
  `strange answers ${ledger.strange.length}${ledger.strange.length > 0 ? `: ${ledger.strange.slice(0, 5).join('\n  ')}` : ''}`,
);
const red =
  Object.values(verdict).some((found) => found.length > 0) || drill !== 'yes' || ledger.strange.length > 0;
console.log(
  values.control
    ? red
      ? 'control: red, as it must be'
      : 'control: GREEN, so the checks prove nothing'
    : red
      ? 'RED'
      : 'green',
);
process.exitCode = red === values.control ? 0 : 1;

/** False: the service did not come back. */
async function oneFault(): Promise<boolean> {
  const drawn = Number(values.least) + chance() * (Number(values.most) - Number(values.least));
  const enough = ledger.acknowledged + drawn;
  for (const end = Date.now() + MOST_PAUSE_MS; ledger.acknowledged < enough && Date.now() < end; )
    await sleep(5);
  const fault = faults[Math.floor(chance() * faults.length)];
  const tally = fault && tallies.get(fault.name);
  if (!fault || !tally) throw new Error('no such fault');
  const { inFlight } = ledger;
  const taken = await fault.run();
  const at = Date.now();
  const isBack = await service.ready(PATIENCE_MS);
  kills += taken;
  tally.times += 1;
  tally.kills += taken;
  tally.inFlight += inFlight;
  if (inFlight === 0) tally.idle += taken;
  tally.slowestS = Math.max(tally.slowestS, (Date.now() - at) / 1000);
  if (!isBack) {
    ledger.strange.push(`not ready ${PATIENCE_MS / 1000} s after: ${fault.name}`);
    until = 0;
  }
  return isBack;
}

function tell(): void {
  if (Date.now() - toldAt < 20_000) return;
  toldAt = Date.now();
  console.error(`${new Date().toISOString()} ${kills} kills, ${ledger.acknowledged} acknowledged`);
}

/** What holds so far, writers at rest: a run that is cut counts up to here. */
async function sayRound(): Promise<void> {
  const other = await startEmbedded({ folder, whenInUse: 'join' });
  const reader = openPool(other.url(), { connections: 2 });
  const found = await judge(reader, ledger);
  await reader.end();
  await other.stop();
  const words = Object.entries(found).map(([what, which]) => `${what} ${which.length}`);
  console.log(
    `${new Date().toISOString()} after ${kills} kills: acknowledged ${ledger.acknowledged}; ${words.join(', ')}; strange ${ledger.strange.length}`,
  );
}

function killed(takesService: boolean, takesDatabase: boolean): number {
  let n = 0;
  if (takesDatabase && service.killDatabase()) n += 1;
  if (takesService) {
    service.kill();
    n += 1;
  }
  return n;
}

async function cut(): Promise<number> {
  const other = await startEmbedded({ folder, whenInUse: 'join' });
  if (other.origin !== 'joined') return 0;
  const admin = openPool(other.url(), { connections: 1 });
  await admin
    .query(
      `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'openbore' AND pid <> pg_backend_pid()`,
    )
    .catch(() => undefined);
  await admin.end();
  await other.stop();
  return 0;
}

/** Shorter and longer than the callers' patience. */
async function frozen(): Promise<number> {
  await service.freezeDatabase(500 + chance() * 2_500);
  return 0;
}

/** After everything a night runs to its end: nothing is stuck. */
async function night(): Promise<void> {
  const headers = { authorization: `Bearer ${key}`, 'content-type': 'application/json' };
  const asked = await fetch(`${direct}/v1/nightly-runs`, { method: 'POST', headers, body: '{}' });
  if (asked.status >= 300)
    ledger.strange.push(`POST /v1/nightly-runs: ${asked.status} ${await asked.text()}`);
  for (const end = Date.now() + 600_000; Date.now() < end; await sleep(500)) {
    const runs = (await (await fetch(`${direct}/v1/nightly-runs`, { headers })).json()) as {
      items: { state: string }[];
    };
    if (runs.items.every(({ state }) => state === 'done')) return;
  }
}

/** Restored from its backup, every foreign key, check and unique index is built anew over all rows. */
async function drilled(): Promise<string> {
  const copy = join(work, 'backup');
  await backup(pool, copy, { version: 'faults', madeAt: new Date() });
  const admin = openPool(server.url('postgres'), { connections: 1 });
  await admin.query('CREATE DATABASE drill');
  await admin.end();
  const fresh = openPool(server.url('drill'));
  try {
    await restore(fresh, copy, await readBackup(copy), { migrations: join(root, 'prisma/migrations') });
    return 'yes';
  } catch (error) {
    return (error as Error).message;
  } finally {
    await fresh.end();
  }
}

/** Many, so that no line has more readings than lines have. */
async function newLines(): Promise<string[]> {
  const make = async (path: string, body: object) => {
    const answer = await fetch(`${direct}/v1/${path}`, {
      method: 'POST',
      headers: { authorization: `Bearer ${key}`, 'content-type': 'application/json' },
      body: JSON.stringify(body),
    });
    if (answer.status !== 201) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
    return ((await answer.json()) as { id: string }).id;
  };
  const siteId = await make('sites', { address: '1 Marsh Gate', town: 'Brindle' });
  const systemId = await make('systems', { siteId, name: 'Yard', kind: 'gravity' });
  const ids: string[] = [];
  for (let n = 1; n <= 40; n++)
    ids.push(await make('lines', { siteId, systemId, name: `Yard drain ${n}`, kind: 'yard_drain' }));
  return ids;
}

async function freePort(): Promise<number> {
  const probe = createServer();
  await new Promise<void>((resolve) => probe.listen(0, '127.0.0.1', resolve));
  const { port } = probe.address() as AddressInfo;
  await new Promise((resolve) => probe.close(resolve));
  return port;
}

/** Mulberry32: the same seed, the same faults in the same order. */
function chanceOf(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}
