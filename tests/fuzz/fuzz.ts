import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import pg from 'pg';
import { pino } from 'pino';
import { migrateJobs } from '../../src/jobs/worker.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { tell } from './report.js';
import { addedUp, type Findings } from './tally.js';

// Requests made from the published document, right, nearly right and hostile, against the whole service, in parts: each
// on a new house in a database of its own, so that the thousandth costs what the first did. Exit 0: no 5xx, no answer
// off the document, nothing left by a refused request, enough accepted, every published refusal met. Reports of runs
// before, named behind the options, are added up with it.

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    seed: { type: 'string', default: '1' },
    count: { type: 'string', default: '20000' },
    part: { type: 'string', default: '5000' },
    workers: { type: 'string', default: '1' },
    houses: { type: 'string', default: '12' },
    only: { type: 'string' },
    why: { type: 'boolean', default: false },
    reports: { type: 'string' },
    add: { type: 'boolean', default: false },
  },
});
const TEMPLATE = 'openbore_fuzz';
const read = (path: string): Findings => JSON.parse(readFileSync(path, 'utf8')) as Findings;

/** Does the parts, some at a time. @returns Their findings, the seeking of what they did not meet last. */
async function run(): Promise<Findings> {
  const folder = values.reports ?? mkdtempSync(join(tmpdir(), 'openbore-fuzz-'));
  mkdirSync(folder, { recursive: true });
  const server = await startEmbedded({ durable: false });
  const admin = new pg.Client({ connectionString: server.url('postgres') });
  await admin.connect();
  const makeDatabase = async (name: string) => {
    await admin.query(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
    await admin.query(`CREATE DATABASE ${name} TEMPLATE ${name === TEMPLATE ? 'template0' : TEMPLATE}`);
    return server.url(name);
  };
  const part = async (n: number, count: number, more: string[]): Promise<string> => {
    const path = join(folder, `seed-${values.seed}-part-${n}.json`);
    const url = await makeDatabase(`fuzz_${n}`);
    const given = ['seed', 'houses', 'only'] as const;
    const isWhole = await child([
      ...['--url', url, '--part', String(n), '--count', String(count), '--report', path, ...more],
      ...given.flatMap((name) => (values[name] === undefined ? [] : [`--${name}`, values[name]])),
    ]);
    if (!isWhole) lost.push(n);
    await admin.query(`DROP DATABASE fuzz_${n} WITH (FORCE)`);
    return path;
  };
  try {
    await admin.query('ALTER SYSTEM SET autovacuum = off');
    await admin.query('SELECT pg_reload_conf()');
    const pool = openPool(await makeDatabase(TEMPLATE));
    await migrate(pool, join(import.meta.dirname, '../../../../prisma/migrations'));
    await migrateJobs(pool, pino({ level: 'silent' }));
    await pool.end();

    const counts = partsOf(Number(values.count), Number(values.part));
    const paths: string[] = [];
    let next = 0;
    const work = async () => {
      while (next < counts.length) {
        const n = next++;
        paths[n] = await part(n, counts[n] ?? 0, []);
      }
    };
    await Promise.all(Array.from({ length: Number(values.workers) }, work));
    const told = [...positionals, ...paths].filter((path) => existsSync(path));
    const sought = await part(
      counts.length,
      0,
      told.flatMap((path) => ['--met', path]),
    );
    return addedUp([...told, sought].filter((path) => existsSync(path)).map(read));
  } finally {
    await admin.end();
    await server.stop();
    if (values.reports === undefined) rmSync(folder, { recursive: true, force: true });
  }
}

function partsOf(count: number, part: number): number[] {
  const parts = Math.ceil(count / part);
  return Array.from({ length: parts }, (_, n) => Math.min(part, count - n * part));
}

/** @returns Whether it came to its end. */
function child(args: string[]): Promise<boolean> {
  const done = spawn(process.execPath, [join(import.meta.dirname, 'fuzzPart.js'), ...args], {
    stdio: 'inherit',
  });
  return new Promise((resolve, reject) => {
    done.once('error', reject);
    done.once('exit', (code) => resolve(code === 0));
  });
}

/** Parts that did not come to their end; what they reported until then counts. */
const lost: number[] = [];
const startedAt = Date.now();
const isGreen = tell(values.add ? addedUp(positionals.map(read)) : await run(), values.why);
console.log(
  `seed ${values.seed}, ${Math.round((Date.now() - startedAt) / 1000)} s: ${isGreen ? 'green' : 'RED'}`,
);
process.exitCode = isGreen ? 0 : 1;
