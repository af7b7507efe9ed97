import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { addDays, dayNumber } from '../../src/domain/calendar/isoDate.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { noiseText, spreadOf, spreadText } from './machine/noise.js';
import { fillLargeBase } from './night/largeBase.js';
import { measuredNight } from './night/measuredNight.js';

// Lines a second of a full night's step `estimate` with one worker and with two, in turn, in one run:
//
//   node tests/bench/run.mjs nightWorkers --lines 10000

const { values } = parseArgs({ options: { lines: { type: 'string', default: '10000' } } });
const lines = Number(values.lines);
const MONDAY = '2026-10-05';
/** A week has one weekly night and six others. */
const ROUNDS = 3;
const WORKERS = [1, 2] as const;
const work = mkdtempSync(join(tmpdir(), 'openbore-bench-'));
chmodSync(work, 0o755); // as root the database runs as another user
const server = await startEmbedded({ folder: join(work, 'data') });
const pool = openPool(server.url(), { statementTimeoutMs: 0 });
try {
  console.log(noiseText());
  await migrate(pool, 'prisma/migrations');
  await fillLargeBase(pool, { lines, readingsPerLine: 10, asOfDay: dayNumber(MONDAY), seed: 1 });
  await measuredNight(server, 'openbore', MONDAY); // the weekly night fits the shared parameters
  const perSecond: Record<number, number[]> = { 1: [], 2: [] };
  const gains: number[] = [];
  let day = MONDAY;
  for (let round = 0; round < ROUNDS; round++) {
    for (const workers of WORKERS) {
      day = addDays(day, 1);
      await pool.query('TRUNCATE line_state');
      const { estimate } = await measuredNight(server, 'openbore', day, workers);
      perSecond[workers]?.push(lines / estimate);
    }
    gains.push((perSecond[2]?.at(-1) ?? Number.NaN) / (perSecond[1]?.at(-1) ?? Number.NaN));
  }
  for (const workers of WORKERS)
    console.log(
      `${lines} lines, ${workers} worker${workers > 1 ? 's' : ''}: estimate ${spreadText(perSecond[workers] ?? [], 'lines a second', 0)}`,
    );
  console.log(`2 workers: ${spreadText(gains, '× as many lines a second as 1')}`);
  if (spreadOf(gains).median < 1) console.log('a second worker gained nothing: is a processor free for it?');
  console.log(noiseText());
} finally {
  await pool.end();
  await server.stop();
  rmSync(work, { recursive: true, force: true });
}
