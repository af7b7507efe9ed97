import { execFileSync } from 'node:child_process';
import { chmodSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { Pool } from 'pg';
import { runNight } from '../../src/actions/night/runNight.js';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import { addDays } from '../../src/domain/calendar/isoDate.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { makeHouse } from '../../src/persistence/house.js';
import { openPool } from '../../src/persistence/pool.js';

// What a line adds to the disk in a year: the demo's books with their two years of history, then nights day after day.
// What people write is counted from the books' last year, what nights write from these nights; bytes are those of the
// tables with their indexes, after a VACUUM, less what an empty one takes, divided by their rows.
//
//   node tests/bench/run.mjs growth --nights 30

const { values } = parseArgs({ options: { nights: { type: 'string', default: '30' } } });
const nights = Number(values.nights);

/** Written by people, as work is done: the column that says when. */
const BY_PEOPLE: Record<string, string> = {
  inspection: 'observed_at',
  clean: 'cleaned_at',
  attempt: 'started_at',
  water_record: 'at',
};

interface Size {
  rows: number;
  bytes: number;
}

const work = mkdtempSync(join(tmpdir(), 'openbore-growth-'));
chmodSync(work, 0o755); // as root the database runs as another user
mkdirSync(join(work, 'data'));
const server = await startEmbedded({ folder: join(work, 'data') });
const cli = (...args: string[]) =>
  execFileSync(process.execPath, [resolve('dist/cli.js'), ...args], {
    env: { ...process.env, DATABASE_URL: server.url(), OPENBORE_FILES: join(work, 'files') },
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'ignore'],
  });
const pool = openPool(server.url());
let now = new Date();
const house = makeHouse(pool, {
  clock: { now: () => now },
  zone: businessZone('America/Chicago'),
  units: 'us',
  currency: 'USD',
  version: 'growth',
});
try {
  cli('migrate');
  const empty = await sizes(pool);
  cli('demo', '--once');
  const { lines, day } = (
    await pool.query(
      `SELECT (SELECT count(*)::int FROM line) AS lines, (SELECT max(business_day) FROM nightly_run) AS day`,
    )
  ).rows[0];
  const before = await sizes(pool);
  for (let n = 1; n <= nights; n++) {
    now = new Date(`${addDays(day, n)}T08:00:00Z`);
    await runNight(house, {
      businessDay: addDays(day, n),
      askedBy: 'growth',
      holder: 'growth',
      routeSeconds: 2,
    });
  }
  const after = await sizes(pool);
  const people = await lastYear(pool, day);
  const rows = [...after].map(([table, { rows: there, bytes }]) => {
    const byNight = (((there - (before.get(table)?.rows ?? 0)) / nights) * 365) / lines;
    const perLine = people.has(table) ? (people.get(table) ?? 0) / lines : Math.max(0, byNight);
    const each = there > 0 ? (bytes - (empty.get(table)?.bytes ?? 0)) / there : 0;
    return { table, perLine, each, bytes: perLine * each };
  });
  rows.sort((a, b) => b.bytes - a.bytes);
  console.log(`${lines} lines, ${nights} nights`);
  console.log('table                     rows a line-year  bytes a row  bytes a line-year');
  for (const { table, perLine, each, bytes } of rows.filter(({ bytes: most }) => most >= 20))
    console.log(
      `${table.padEnd(25)} ${perLine.toFixed(2).padStart(16)} ${each.toFixed(0).padStart(12)} ${bytes.toFixed(0).padStart(18)}`,
    );
  console.log(`all: ${rows.reduce((sum, { bytes }) => sum + bytes, 0).toFixed(0)} bytes a line-year`);
  const all = [...after.values()].reduce((sum, { bytes }) => sum + bytes, 0);
  console.log(`the books themselves: ${(all / lines).toFixed(0)} bytes a line, all tables together`);
} finally {
  await pool.end();
  await server.stop();
  rmSync(work, { recursive: true, force: true });
}

/** Rows and bytes by table, a table's partitions together. */
async function sizes(of: Pool): Promise<Map<string, Size>> {
  await of.query('VACUUM ANALYZE');
  const { rows } = await of.query<{ table: string; part: string; bytes: number }>(
    `SELECT coalesce(p.relname, c.relname) AS table, c.relname AS part, pg_total_relation_size(c.oid)::float8 AS bytes
       FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace AND n.nspname = 'public'
       LEFT JOIN pg_inherits i ON i.inhrelid = c.oid LEFT JOIN pg_class p ON p.oid = i.inhparent
      WHERE c.relkind = 'r' ORDER BY 1`,
  );
  const found = new Map<string, Size>();
  for (const { table, part, bytes } of rows) {
    const n = Number((await of.query(`SELECT count(*)::int AS n FROM "${part}"`)).rows[0].n);
    const sum = found.get(table) ?? { rows: 0, bytes: 0 };
    found.set(table, { rows: sum.rows + n, bytes: sum.bytes + bytes });
  }
  return found;
}

/** How many rows of what people write were written in the year up to a day. */
async function lastYear(of: Pool, day: string): Promise<Map<string, number>> {
  const found = new Map<string, number>();
  for (const [table, at] of Object.entries(BY_PEOPLE)) {
    const { rows } = await of.query(
      `SELECT count(*)::int AS n FROM ${table} WHERE ${at} > $1::date - interval '1 year' AND ${at} < $1::date + 1`,
      [day],
    );
    found.set(table, Number(rows[0].n));
  }
  return found;
}
