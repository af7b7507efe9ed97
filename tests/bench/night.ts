import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import type { Pool } from 'pg';
import { from as copyFrom, to as copyTo } from 'pg-copy-streams';
import { addDays, dayNumber } from '../../src/domain/calendar/isoDate.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { noiseText, spreadOf, spreadText } from './machine/noise.js';
import { costOf, treeSeconds } from './machine/processTree.js';
import { addNews, fillLargeBase } from './night/largeBase.js';

// The night's steps `estimate` and `date` from PostgreSQL to PostgreSQL, over what the machine needs to copy as many
// readings out and as many trends in. A full night works every line anew, a night with news those of one line in a
// hundred and their sites; the weekly night searches the shared parameters too. Own process for each night.
//
//   node tests/bench/run.mjs night --lines 100000 --readings 10

const { values } = parseArgs({
  options: { lines: { type: 'string', default: '100000' }, readings: { type: 'string', default: '10' } },
});
const WEEKLY = '2026-10-05';
const work = mkdtempSync(join(tmpdir(), 'openbore-bench-'));
chmodSync(work, 0o755); // as root the database runs as another user
const server = await startEmbedded({ folder: join(work, 'data') });

try {
  console.log(noiseText());
  const large = Number(values.lines);
  const small = await nights(Math.round(large / 10));
  const whole = await nights(large);
  console.log(
    `ten times the lines: full ${(whole.full / small.full).toFixed(1)} × the time, news ${(whole.news / small.news).toFixed(1)} ×`,
  );
  console.log(noiseText());
} finally {
  await server.stop();
  rmSync(work, { recursive: true, force: true });
}

async function nights(lines: number): Promise<{ full: number; news: number }> {
  const readingsPerLine = Number(values.readings);
  const name = `bench_${lines}`;
  const admin = openPool(server.url());
  await admin.query(`CREATE DATABASE ${name}`);
  await admin.end();
  const pool = openPool(server.url(name), { statementTimeoutMs: 0 });
  await migrate(pool, 'prisma/migrations');
  await fillLargeBase(pool, { lines, readingsPerLine, asOfDay: dayNumber(WEEKLY), seed: 1 });
  console.log(`\n${lines} lines, ${lines * readingsPerLine} readings`);

  const weekly = await night(name, WEEKLY);
  const copies: number[] = [];
  const copyProcessor: number[] = [];
  for (let i = 0; i < 5; i++) {
    const before = processorSeconds();
    copies.push(await copySeconds(pool));
    copyProcessor.push(processorSeconds() - before);
  }
  const unit = spreadOf(copies).median;
  const processorUnit = spreadOf(copyProcessor).median;
  console.log(
    `copy out and in: ${spreadText(copies, 's')}; processor time with database ${spreadText(copyProcessor, 's')}`,
  );
  const say = (what: string, took: Night, most?: number) =>
    console.log(
      `${what}: estimate ${took.estimate.toFixed(1)} s, date ${took.date.toFixed(1)} s = ${(took.seconds / unit).toFixed(1)} × copy${most ? ` (target ${most})` : ''}; processor time ${took.processor.toFixed(1)} s = ${(took.processor / processorUnit).toFixed(1)} × copy; peak with database ${took.mib.toFixed(0)} MiB; ${took.counts}`,
    );
  say('weekly night', weekly);
  await pool.query('TRUNCATE line_state');
  const full = await night(name, addDays(WEEKLY, 1));
  say('full night', full, 8);
  const times: Night[] = [];
  for (let i = 2; i < 5; i++) {
    const client = await pool.connect();
    await addNews(client, 100, dayNumber(WEEKLY) + i);
    client.release();
    times.push(await night(name, addDays(WEEKLY, i)));
    say('night with 1 % news', times.at(-1) as Night, 3);
  }
  await pool.end();
  return { full: full.seconds, news: spreadOf(times.map(({ seconds }) => seconds)).median };
}

interface Night {
  estimate: number;
  date: number;
  seconds: number;
  /** Of the night's process and the database together. */
  processor: number;
  mib: number;
  counts: string;
}

async function night(database: string, day: string): Promise<Night> {
  const before = treeSeconds(server.pid()) ?? Number.NaN;
  const cost = await costOf(
    process.execPath,
    [join(import.meta.dirname, 'night/oneNight.js'), '--url', server.url(database), '--day', day],
    { alsoWatch: [server.pid()] },
  );
  const databaseSeconds = (treeSeconds(server.pid()) ?? Number.NaN) - before;
  const { estimate, date, processor, counts } = JSON.parse(cost.output) as {
    estimate: number;
    date: number;
    processor: number;
    counts: object;
  };
  const mib = cost.treeMib ?? Number.NaN;
  return {
    estimate,
    date,
    seconds: estimate + date,
    processor: processor + databaseSeconds,
    mib,
    counts: JSON.stringify(counts),
  };
}

/** Of this process and the database. */
function processorSeconds(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6 + (treeSeconds(server.pid()) ?? Number.NaN);
}

/** Every reading out as (int, timestamptz, float8), every trend in: what no night can do without. */
async function copySeconds(pool: Pool): Promise<number> {
  const client = await pool.connect();
  try {
    await client.query(
      `CREATE TABLE IF NOT EXISTS bench_reading AS
         SELECT (row_number() OVER ())::int AS line, observed_at AS at, occlusion FROM inspection WHERE author = 'bench' AND phase = 'before_cleaning'`,
    );
    await client.query('CREATE TABLE IF NOT EXISTS bench_trend (LIKE trend INCLUDING ALL)');
    const trends: Buffer[] = [];
    for await (const chunk of client.query(copyTo('COPY trend TO STDOUT'))) trends.push(chunk as Buffer);
    await client.query('TRUNCATE bench_trend');
    const startedAt = performance.now();
    let bytes = 0;
    for await (const chunk of client.query(copyTo('COPY bench_reading TO STDOUT')))
      bytes += (chunk as Buffer).length;
    if (bytes === 0) throw new RangeError('no readings');
    const stream = client.query(copyFrom('COPY bench_trend FROM STDIN'));
    for (const chunk of trends)
      if (!stream.write(chunk)) await new Promise<void>((resolve) => stream.once('drain', resolve));
    await new Promise<void>((resolve, reject) => {
      stream.on('error', reject);
      stream.end(resolve);
    });
    return (performance.now() - startedAt) / 1000;
  } finally {
    client.release();
  }
}
