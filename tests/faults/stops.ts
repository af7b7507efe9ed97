import { execFileSync } from 'node:child_process';
import { chmodSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import type { Pool } from 'pg';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { openPool } from '../../src/persistence/pool.js';
import { drilled, freePort, newLines } from './breaking.js';
import { Prober } from './prober.js';
import { Service } from './service.js';
import { judge, type Verdict } from './verdict.js';
import { newLedger, write } from './writers.js';

// Two built instances on one database with the demo's books and writes in flight: one is told to stop in the middle of
// long work, which the other must end; then the database stands still in the middle of a night.

const { values } = parseArgs({
  options: {
    only: { type: 'string', default: '' },
    freeze: { type: 'string', default: '90' },
    writers: { type: 'string', default: '4' },
    keep: { type: 'boolean', default: false },
  },
});
/** README: a stop takes about 20 s at most; the exit may be forced 2 s later. */
const STOPPED_WITHIN_S = 23;
const TAKEN_WITHIN_S = 60;
const PATIENCE_MS = 600_000;

interface Work {
  name: string;
  path: string;
  body: object;
  table: 'nightly_run' | 'plan' | 'what_if';
  /** State in which it has come to its end. */
  end: string;
  /** SQL: whether it is in the middle, of the row `w`. */
  inTheMiddle: string;
}

const inStep = (step: string) =>
  `EXISTS (SELECT FROM nightly_step s WHERE s.run_id = w.id AND s.name = '${step}' AND s.state = 'running')`;
const night = (step: string): Work => ({
  name: `night, in ${step}`,
  path: '/v1/nightly-runs',
  body: { again: true },
  table: 'nightly_run',
  end: 'done',
  inTheMiddle: inStep(step),
});
const WORKS: Work[] = [
  night('estimate'),
  night('order'),
  night('route'),
  {
    name: 'plan',
    path: '/v1/plans',
    body: { searchSeconds: 20 },
    table: 'plan',
    end: 'proposed',
    inTheMiddle: 'w.progress > 0.1',
  },
  {
    name: 'what-if',
    path: '/v1/what-ifs',
    body: { extraCrews: -1, weeks: 20, runs: 4 },
    table: 'what_if',
    end: 'done',
    inTheMiddle: 'w.progress > 0.05',
  },
];

const root = process.cwd();
const work = mkdtempSync(join(tmpdir(), 'openbore-stops-'));
chmodSync(work, 0o755); // as root the database runs as another user
const folder = join(work, 'data');
mkdirSync(folder);
const cli = join(root, 'dist/cli.js');
const server = await startEmbedded({ folder });
const admin = openPool(server.url('postgres'), { connections: 1 });
let red = 0;
try {
  await admin.query('CREATE DATABASE books');
  execFileSync(process.execPath, [cli, 'demo', '--once'], { env: envOn('books'), stdio: 'ignore' });
  for (const each of WORKS.filter(({ name }) => name.includes(values.only))) await stopped(each);
  if ('database frozen'.includes(values.only)) await frozen(Number(values.freeze));
} finally {
  await admin.end();
  await server.stop();
  if (!values.keep) rmSync(work, { recursive: true, force: true });
}
console.log(red === 0 ? 'green' : `RED: ${red}`);
process.exitCode = red === 0 ? 0 : 1;

function envOn(database: string): NodeJS.ProcessEnv {
  return { ...process.env, DATABASE_URL: server.url(database), OPENBORE_FILES: join(work, 'files') };
}

interface Stage {
  pool: Pool;
  first: Service;
  second: Service;
  key: string;
  owner: string;
  lineIds: string[];
}

/** Two instances on a copy of the books. */
async function onStage(play: (stage: Stage) => Promise<void>): Promise<void> {
  await admin.query('DROP DATABASE IF EXISTS scene WITH (FORCE)');
  await admin.query('CREATE DATABASE scene TEMPLATE books');
  const pool = openPool(server.url('scene'), { connections: 4, onLost: () => undefined });
  const instance = async () => new Service(cli, folder, await freePort(), envOn('scene'));
  const [first, second] = [await instance(), await instance()];
  try {
    const key = first.key('dispatcher');
    const owner = first.key('owner');
    for (const each of [first, second]) each.start();
    for (const each of [first, second])
      if (!(await each.ready(180_000))) throw new Error('an instance did not start');
    const lineIds = await newLines(first.url, key);
    await play({ pool, first, second, key, owner, lineIds });
  } finally {
    await Promise.all([first.stop(), second.stop()]);
    await pool.end();
  }
}

/** Asks the first instance for it while the other stands still, and waits until it is in the middle of it. */
async function begun({ pool, first, second, owner }: Stage, asked: Work): Promise<string> {
  second.signal('SIGSTOP');
  try {
    const answer = await fetch(`${first.url}${asked.path}`, {
      method: 'POST',
      headers: { authorization: `Bearer ${owner}`, 'content-type': 'application/json' },
      body: JSON.stringify(asked.body),
    });
    if (answer.status !== 202) throw new Error(`${asked.path}: ${answer.status} ${await answer.text()}`);
    const { id } = (await answer.json()) as { id: string };
    const isIn = `SELECT ${asked.inTheMiddle} AS is_in FROM ${asked.table} w WHERE w.id = $1`;
    await until(async () => (await pool.query(isIn, [id])).rows[0]?.is_in === true, 20);
    return id;
  } finally {
    second.signal('SIGCONT');
  }
}

async function until(is: () => Promise<boolean>, everyMs = 100): Promise<void> {
  for (const end = Date.now() + PATIENCE_MS; !(await is()); await sleep(everyMs))
    if (Date.now() > end) throw new Error('it did not come to that within ten minutes');
}

async function stateOf(pool: Pool, { table }: Work, id: string): Promise<string> {
  return String((await pool.query(`SELECT state FROM ${table} WHERE id = $1`, [id])).rows[0]?.state);
}

/** Jobs that are locked or dead and stay so, writers at rest: one that was just done is on its way out. */
async function leftJobs(pool: Pool): Promise<string[]> {
  let left: string[] = [];
  for (const end = Date.now() + 15_000; Date.now() < end; await sleep(500)) {
    const { rows } = await pool.query(
      `SELECT task_identifier, key, locked_by, attempts, last_error FROM graphile_worker.jobs WHERE locked_at IS NOT NULL OR attempts >= max_attempts`,
    );
    if (rows.length === 0) return [];
    left = rows.map((row) => JSON.stringify(row));
  }
  return left;
}

async function stopped(asked: Work): Promise<void> {
  await onStage(async (stage) => {
    const { pool, first, second, key, lineIds } = stage;
    const ledger = newLedger();
    let going = true;
    const id = await begun(stage, asked);
    const doors = [first, second].map(({ url }) => ({ url, key, lineIds }));
    const writing = doors.flatMap((door, d) =>
      Array.from({ length: Number(values.writers) }, (_, n) =>
        write(door, ledger, `w${d}.${n}`, () => going && (d === 1 || !first.hasEnded)),
      ),
    );
    const [atFirst, atSecond] = doors.map((door) => new Prober(door, 100)) as [Prober, Prober];
    const locked = async () =>
      (
        await pool.query(
          `SELECT locked_by FROM graphile_worker.jobs WHERE key LIKE $1 OR (locked_by IS NOT NULL AND key LIKE 'night:%' AND $2)`,
          [`%:${id}`, asked.table === 'nightly_run'],
        )
      ).rows.find(({ locked_by: by }) => by !== null)?.locked_by as string | undefined;
    const holder = await locked();
    const wasIn = (await stateOf(pool, asked, id)) !== asked.end;
    const at = Date.now();
    const since = () => (Date.now() - at) / 1000;
    const stopping = first.stop().then((code) => ({ code, tookS: since() }));
    let takenS = Number.NaN;
    await until(async () => {
      const by = await locked();
      if (Number.isNaN(takenS) && by !== undefined && by !== holder) takenS = since();
      const state = await stateOf(pool, asked, id);
      return [asked.end, 'failed', 'discarded'].includes(state);
    });
    const endedS = since();
    const { code, tookS } = await stopping;
    going = false;
    await Promise.all([...writing, atFirst.end(), atSecond.end()]);
    const state = await stateOf(pool, asked, id);
    const verdict = await judge(pool, ledger);
    const left = await leftJobs(pool);
    const faults = [
      ...(wasIn ? [] : ['it was done before the stop']),
      ...(state === asked.end ? [] : [`it is ${state}`]),
      ...(code === 0 ? [] : [`exit ${code}`]),
      ...(tookS <= STOPPED_WITHIN_S ? [] : ['the stop took too long']),
      ...(takenS <= TAKEN_WITHIN_S ? [] : ['nobody took it up in time']),
      ...left.map((job) => `left in the queue: ${job}`),
      ...([atFirst, atSecond].some(({ byStatus }) => byStatus.has(500)) ? ['500 in place of 503'] : []),
      ...atFirst.strange,
      ...atSecond.strange,
      ...(atSecond.refused + atSecond.cut === 0 ? [] : ['the other instance refused']),
      ...ledger.strange,
      ...verdictWords(verdict),
      ...(await constraintFaults(pool)),
    ];
    tell(
      asked.name,
      [
        `stopped after ${tookS.toFixed(1)} s`,
        `taken up after ${takenS.toFixed(1)} s`,
        `${asked.end} after ${endedS.toFixed(1)} s`,
        `there: ${atFirst.words()}`,
        `at the other: ${atSecond.words()}`,
        `${ledger.acknowledged} writes acknowledged`,
      ],
      faults,
    );
  });
}

/** The database's processes stand still in the middle of a night, for as long as it takes callers to give up. */
async function frozen(seconds: number): Promise<void> {
  await onStage(async (stage) => {
    const { pool, first, second, key, owner, lineIds } = stage;
    const asked = night('estimate');
    const ledger = newLedger();
    let going = true;
    const id = await begun(stage, asked);
    const doors = [first, second].map(({ url }) => ({ url, key, lineIds }));
    const writing = doors.map((door, d) => write(door, ledger, `w${d}`, () => going));
    await sleep(500);
    const lists = doors.map((door) => new Prober(door, 1_000));
    const ready = doors.map((door) => new Prober(door, 2_000, '/ready'));
    const metrics = new Prober({ url: first.url, key: owner }, 2_000, '/metrics');
    const wasIn = (await stateOf(pool, asked, id)) === 'running';
    await first.freezeDatabase(seconds * 1000);
    const at = Date.now();
    const readyS = await Promise.all(
      [first, second].map(async (each) =>
        (await each.ready(180_000)) ? (Date.now() - at) / 1000 : Infinity,
      ),
    );
    await until(async () => ['done', 'failed'].includes(await stateOf(pool, asked, id)));
    const endedS = (Date.now() - at) / 1000;
    going = false;
    await Promise.all([
      ...writing,
      ...lists.map((p) => p.end()),
      ...ready.map((p) => p.end()),
      metrics.end(),
    ]);
    const state = await stateOf(pool, asked, id);
    const because = (await pool.query('SELECT failed_because FROM nightly_run WHERE id = $1', [id])).rows[0];
    const verdict = await judge(pool, ledger);
    const faults = [
      ...(wasIn ? [] : ['the night was done before']),
      ...(state === 'done' ? [] : [`the night is ${state}: ${because?.failed_because}`]),
      ...(Math.max(...readyS) < 30 ? [] : ['not ready 30 s after']),
      ...(Math.max(...ready.map(({ slowestS }) => slowestS)) < 6 ? [] : ['/ready kept its caller waiting']),
      ...(ready.every(({ byStatus }) => byStatus.has(503)) ? [] : ['/ready did not tell of it']),
      ...(metrics.slowestS < 6 ? [] : ['/metrics kept its caller waiting']),
      ...(metrics.seen.some((text) => text.includes('openbore_database_up 0')) ? [] : ['/metrics hid it']),
      ...([...lists, metrics].some(({ byStatus }) => byStatus.has(500)) ? ['500 in place of 503'] : []),
      ...[...lists, metrics].flatMap(({ strange }) => strange),
      ...ledger.strange,
      ...verdictWords(verdict),
      ...(await constraintFaults(pool)),
    ];
    tell(
      `database frozen ${seconds} s in a night`,
      [
        `ready ${Math.max(...readyS).toFixed(1)} s after`,
        `night ${state} ${endedS.toFixed(1)} s after`,
        `lists: ${lists.map((p) => p.words()).join(' and ')}`,
        `/ready: ${ready.map((p) => p.words()).join(' and ')}`,
        `/metrics: ${metrics.words()}`,
        `${ledger.acknowledged} writes acknowledged`,
      ],
      faults,
    );
  });
}

function verdictWords(verdict: Verdict): string[] {
  return (Object.entries(verdict) as [string, string[]][]).flatMap(([what, found]) =>
    found.map((each) => `${what}: ${each}`),
  );
}

/** Restored from its backup, every constraint is built anew. */
async function constraintFaults(pool: Pool): Promise<string[]> {
  const copy = join(work, 'backup');
  const held = await drilled(pool, server, root, copy);
  rmSync(copy, { recursive: true, force: true });
  await admin.query('DROP DATABASE drill WITH (FORCE)');
  return held === 'yes' ? [] : [held];
}

function tell(name: string, facts: readonly string[], faults: readonly string[]): void {
  if (faults.length > 0) red += 1;
  const words = faults.length === 0 ? ['nothing lost, doubled, left or stuck'] : faults.slice(0, 8);
  console.log([`${name}: ${faults.length === 0 ? 'good' : 'RED'}`, ...facts, ...words].join('\n  '));
}
