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
import { treeSeconds } from './machine/processTree.js';
import { addNews, fillLargeBase } from './night/largeBase.js';
import { measuredNight, type Night } from './night/measuredNight.js';

// The night's steps `estimate` and `date` from PostgreSQL to PostgreSQL, over what the machine needs to copy as many
// readings out (int, timestamp, float8) and as many trends in: by the clock, and by processor time of all processes. A
// full night works every line anew, a night with news those of one line in a hundred and their sites; the weekly night
// searches the shared parameters too. A process of its own for each night; copies before and after each.
//
//   node tests/bench/run.mjs night                                     10,000 and 100,000 lines
//   node tests/bench/run.mjs night --lines 500,5000 --rounds 3         up to three rounds: a week has so many nights
//   npm run bench:fouling                                              5,000 lines, after the scores

const { values } = parseArgs({
  options: {
    lines: { type: 'string', default: '10000,100000' },
    readings: { type: 'string', default: '10' },
    rounds: { type: 'string', default: '3' },
  },
});
const MONDAY = '2026-10-05';
const TARGETS = { full: 8, news: 3 };
const work = mkdtempSync(join(tmpdir(), 'openbore-bench-'));
chmodSync(work, 0o755); // as root the database runs as another user
const server = await startEmbedded({ folder: join(work, 'data') });

try {
  console.log(noiseText());
  let before: Base | null = null;
  for (const lines of values.lines.split(',').map(Number)) {
    const base: Base = await nights(lines);
    if (before) {
      const times = lines / before.lines;
      const grown = (kind: 'full' | 'news') =>
        `${(base[kind].seconds / before![kind].seconds).toFixed(1)} × by clock, ${(base[kind].processor / before![kind].processor).toFixed(1)} × by processor`;
      console.log(
        `${times} times the lines (target ${1.1 * times}): full ${grown('full')}; news ${grown('news')}`,
      );
    }
    before = base;
  }
  console.log(noiseText());
} finally {
  await server.stop();
  rmSync(work, { recursive: true, force: true });
}

/** Middle seconds of the nights of a base. */
interface Base {
  lines: number;
  full: Took;
  news: Took;
}

interface Took {
  seconds: number;
  processor: number;
}

async function nights(lines: number): Promise<Base> {
  const readingsPerLine = Number(values.readings);
  const name = `bench_${lines}`;
  const admin = openPool(server.url());
  await admin.query(`CREATE DATABASE ${name}`);
  await admin.end();
  const pool = openPool(server.url(name), { statementTimeoutMs: 0 });
  await migrate(pool, 'prisma/migrations');
  await fillLargeBase(pool, { lines, readingsPerLine, asOfDay: dayNumber(MONDAY), seed: 1 });
  console.log(`\n${lines} lines, ${lines * readingsPerLine} readings`);

  const weekly = [await measuredNight(server, name, MONDAY)];
  await layOutCopies(pool);
  const copies: Took[] = [await copyOnce(pool)];
  const full: Night[] = [];
  const news: Night[] = [];
  let day = MONDAY;
  for (let round = 0; round < Math.min(3, Number(values.rounds)); round++) {
    await pool.query('TRUNCATE line_state');
    day = addDays(day, 1);
    full.push(await measuredNight(server, name, day));
    copies.push(await copyOnce(pool));
    day = addDays(day, 1);
    const client = await pool.connect();
    await addNews(client, 100, dayNumber(day));
    client.release();
    news.push(await measuredNight(server, name, day));
    copies.push(await copyOnce(pool));
  }
  await pool.end();
  const unit = middle(copies);
  console.log(
    `copy out and in: ${spreadText(
      copies.map(({ seconds }) => seconds),
      's',
    )}, processor ${spreadText(
      copies.map(({ processor }) => processor),
      's',
    )}`,
  );
  say('weekly night', weekly, unit);
  say('full night', full, unit, TARGETS.full);
  say('night with 1 % news', news, unit, TARGETS.news);
  return { lines, full: middle(full), news: middle(news) };
}

function middle(took: readonly Took[]): Took {
  return {
    seconds: spreadOf(took.map(({ seconds }) => seconds)).median,
    processor: spreadOf(took.map(({ processor }) => processor)).median,
  };
}

function say(what: string, took: readonly Night[], unit: Took, target?: number): void {
  const { seconds, processor } = middle(took);
  const ratios = `${(seconds / unit.seconds).toFixed(1)} × copy by clock, ${(processor / unit.processor).toFixed(1)} × by processor${target ? ` (target ${target})` : ''}`;
  const steps = `estimate ${spreadOf(took.map(({ estimate }) => estimate)).median.toFixed(1)} s, date ${spreadOf(took.map(({ date }) => date)).median.toFixed(1)} s`;
  const spread = `${spreadText(
    took.map((each) => each.seconds),
    's',
    1,
  )}, processor ${spreadText(
    took.map((each) => each.processor),
    's',
    1,
  )}`;
  const mib = Math.max(...took.map((each) => each.mib));
  console.log(
    `${what}: ${ratios}; ${steps}; ${spread}; peak with database ${mib.toFixed(0)} MiB; ${took.at(-1)?.counts}`,
  );
}

/** Of this process and the database. */
function processorSeconds(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6 + (treeSeconds(server.pid()) ?? Number.NaN);
}

async function layOutCopies(pool: Pool): Promise<void> {
  await pool.query(
    `CREATE TABLE bench_reading AS
       SELECT (row_number() OVER ())::int AS line, observed_at::timestamp AS at, occlusion FROM inspection WHERE author = 'bench' AND phase = 'before_cleaning'`,
  );
  await pool.query('CREATE TABLE bench_trend (LIKE trend INCLUDING ALL)');
}

/** Every reading out, every trend in: what no night can do without. */
async function copyOnce(pool: Pool): Promise<Took> {
  const client = await pool.connect();
  try {
    const trends: Buffer[] = [];
    for await (const chunk of client.query(copyTo('COPY trend TO STDOUT'))) trends.push(chunk as Buffer);
    await client.query('TRUNCATE bench_trend');
    const processorBefore = processorSeconds();
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
    return {
      seconds: (performance.now() - startedAt) / 1000,
      processor: processorSeconds() - processorBefore,
    };
  } finally {
    client.release();
  }
}
