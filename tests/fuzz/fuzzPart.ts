import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { openPool } from '../../src/persistence/pool.js';
import { fuzzHouse } from './fuzzHouse.js';
import { addedUp, type Findings } from './tally.js';
import { walk } from './walk.js';

// One part of a run: so many requests to a new house in an empty migrated database. Its report is written every
// thousand requests, so that a run that is cut counts as far as it came.

const SEEDS_APART = 1_000;
const TELL_EVERY = 1_000;

const { values } = parseArgs({
  options: {
    url: { type: 'string', default: '' },
    seed: { type: 'string', default: '1' },
    part: { type: 'string', default: '0' },
    count: { type: 'string', default: '0' },
    houses: { type: 'string', default: '12' },
    only: { type: 'string' },
    report: { type: 'string', default: '' },
    /** Reports of parts before, where this one is to seek what they did not meet. */
    met: { type: 'string', multiple: true, default: [] },
  },
});
const seed = Number(values.seed) * SEEDS_APART + Number(values.part);
const files = mkdtempSync(join(tmpdir(), 'openbore-fuzz-files-'));
chmodSync(files, 0o755); // as root the database runs as another user
const pool = openPool(values.url);

/** Findings as they come, and a line every thousand requests. */
function teller(): (sent: number, findings: Findings) => void {
  const startedAt = performance.now();
  const told = { broken: 0, offSchema: 0, touched: 0 };
  let last = 0;
  return (sent, findings) => {
    for (const what of ['broken', 'offSchema', 'touched'] as const)
      for (; told[what] < findings[what].length; told[what]++)
        console.log(`${what}: ${findings[what][told[what]]}`);
    if (sent === 0) return writeFileSync(values.report, JSON.stringify(findings));
    if (sent - last < TELL_EVERY && sent < Number(values.count)) return;
    last = sent;
    const each = Math.round((performance.now() - startedAt) / sent);
    const { broken, offSchema, touched } = told;
    console.log(
      `part ${values.part}, seed ${seed}: ${sent} of ${values.count}, ${each} ms each, ${broken} broken, ${offSchema} off the document, ${touched} touched`,
    );
    writeFileSync(values.report, JSON.stringify(findings));
  };
}

try {
  const t = await fuzzHouse(pool, files, seed, Number(values.houses));
  const met = values.met.map((path) => JSON.parse(readFileSync(path, 'utf8')) as Findings);
  const findings = await walk(t, {
    seed,
    count: Number(values.count),
    onProgress: teller(),
    ...(values.only === undefined ? {} : { only: new RegExp(values.only) }),
    ...(Number(values.count) === 0 ? { seeks: addedUp(met) } : {}),
  });
  writeFileSync(values.report, JSON.stringify(findings));
  await t.app.close();
} finally {
  await pool.end();
  rmSync(files, { recursive: true, force: true });
}
