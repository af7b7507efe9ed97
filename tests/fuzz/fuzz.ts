import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { pino } from 'pino';
import { migrateJobs } from '../../src/jobs/worker.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { fuzzHouse } from './fuzzHouse.js';
import { lineOf, verdictOf } from './report.js';
import { walk } from './walk.js';

// Requests made from the published document, right, nearly right and hostile, against the whole service on a database
// of its own. Exit 0: no 5xx, no answer off the document, nothing left by a refused request, enough accepted.

const { values } = parseArgs({
  options: {
    seed: { type: 'string', default: '1' },
    count: { type: 'string', default: '20000' },
    houses: { type: 'string', default: '20' },
    only: { type: 'string' },
    why: { type: 'boolean', default: false },
    json: { type: 'string' },
  },
});
const work = mkdtempSync(join(tmpdir(), 'openbore-fuzz-'));
chmodSync(work, 0o755); // as root the database runs as another user
const server = await startEmbedded({ durable: false });
const pool = openPool(server.url());
try {
  await migrate(pool, join(import.meta.dirname, '../../../../prisma/migrations'));
  await migrateJobs(pool, pino({ level: 'silent' }));
  await pool.query('ALTER SYSTEM SET autovacuum = off');
  await pool.query('SELECT pg_reload_conf()');
  const t = await fuzzHouse(pool, work, Number(values.seed), Number(values.houses));
  const began = Date.now();
  const findings = await walk(t, {
    seed: Number(values.seed),
    count: Number(values.count),
    seeks: true,
    ...(values.only === undefined ? {} : { only: new RegExp(values.only) }),
    onProgress: (sent) => {
      if (process.stderr.isTTY && sent % 100 === 0) process.stderr.write(`\r${sent} of ${values.count} `);
    },
  });
  console.log('operation                      sent accepted  each  refused');
  for (const tally of findings.tallies.values()) console.log(lineOf(tally));
  if (values.why)
    for (const [id, told] of findings.unexpected) {
      const tally = findings.tallies.get(id);
      if (tally && tally.accepted < tally.sent * 0.45) console.log(`\n${id}\n  ${told.join('\n  ')}`);
    }
  for (const what of ['broken', 'offSchema', 'touched', 'groundless'] as const)
    if (findings[what].length > 0) console.log(`\n${what}\n  ${findings[what].slice(0, 40).join('\n  ')}`);
  const verdict = verdictOf(findings);
  console.log(
    `\nseed ${values.seed}, ${Math.round((Date.now() - began) / 1000)} s: ${JSON.stringify(verdict, null, 1)}`,
  );
  if (values.json)
    writeFileSync(
      values.json,
      JSON.stringify({
        verdict,
        operations: [...findings.tallies.values()].map((tally) => ({
          ...tally,
          operation: tally.operation.id,
          refused: Object.fromEntries(tally.refused),
        })),
      }),
    );
  const isRed =
    verdict.broken +
      verdict.offSchema +
      verdict.touched +
      verdict.tooFewAccepted.length +
      verdict.notReached >
    0;
  console.log(isRed ? 'RED' : 'green');
  process.exitCode = isRed ? 1 : 0;
  await t.app.close();
} finally {
  await pool.end();
  await server.stop();
  rmSync(work, { recursive: true, force: true });
}
