import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { buildApp } from '../../src/http/app.js';
import { QUESTIONS } from '../../src/http/reports/all.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { openPool } from '../../src/persistence/pool.js';
import { noiseText } from './machine/noise.js';
import { datedBase } from './night/datedBase.js';

// Every question of the owner over a large base, by HTTP in one process: middle of some rounds as JSON, and once as a
// picture. Target: about a second each at 10,000 lines.
//
//   node tests/bench/run.mjs reports --lines 2000 --rounds 3

const { values } = parseArgs({
  options: {
    lines: { type: 'string', default: '10000' },
    readings: { type: 'string', default: '10' },
    rounds: { type: 'string', default: '5' },
  },
});
const DAY = '2026-10-05';
const work = mkdtempSync(join(tmpdir(), 'openbore-bench-'));
chmodSync(work, 0o755); // as root the database runs as another user
const server = await startEmbedded({ folder: join(work, 'data') });
const pool = openPool(server.url());

try {
  console.log(noiseText());
  const { house, key } = await datedBase(pool, {
    lines: Number(values.lines),
    readings: Number(values.readings),
    day: DAY,
    role: 'owner',
  });
  const app = await buildApp(house, { requestsPerMinute: 0 });
  const ask = async (url: string): Promise<number> => {
    const startedAt = performance.now();
    const { statusCode, body } = await app.inject({ url, headers: { authorization: `Bearer ${key}` } });
    if (statusCode !== 200) throw new Error(`${url}: ${body}`);
    return performance.now() - startedAt;
  };
  console.log(`${values.lines} lines, ${values.readings} readings each: milliseconds as JSON, as a picture`);
  for (const { path } of QUESTIONS) {
    const rounds: number[] = [];
    for (let round = 0; round < Number(values.rounds); round++) rounds.push(await ask(`/v1/reports/${path}`));
    const middle = rounds.sort((a, b) => a - b)[Math.floor(rounds.length / 2)] ?? 0;
    const picture = await ask(`/v1/reports/${path}.svg`);
    console.log(`${path.padEnd(20)} ${middle.toFixed(0).padStart(6)} ${picture.toFixed(0).padStart(6)}`);
  }
  await app.close();
  console.log(noiseText());
} finally {
  await pool.end();
  await server.stop();
  rmSync(work, { recursive: true, force: true });
}
