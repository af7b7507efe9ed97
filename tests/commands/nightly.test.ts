import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test, vi } from 'vitest';
import { plainTools } from '../../src/actions/plans/plainTools.js';
import { nightlyCommand } from '../../src/commands/nightly.js';
import { readConfig } from '../../src/config.js';
import { ENGINE_VERSION } from '../../src/domain/fouling/evidence.js';
import { testDatabase } from '../setup/testDatabase.js';

// Threads run what is built: here the routes are searched on this one.
vi.mock('../../src/jobs/routeThreads.js', () => ({ threadedSearch: () => plainTools.search }));

const db = await testDatabase();

// A base without lines whose shape was searched this week: its night needs no thread.
await db.pool.query(
  `INSERT INTO fit (id, as_of, kind, engine_version, parameters, lines, readings)
   VALUES (gen_random_uuid(), (now() AT TIME ZONE 'America/Chicago')::date, 'weekly', $1, '{"shapes": []}', 0, 0)`,
  [ENGINE_VERSION],
);

/** What the command says of its night, and what it warns of. */
async function night(): Promise<{ said: string; warned: string }> {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-nightly-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  const say = vi.spyOn(console, 'log').mockImplementation(() => undefined);
  const warn = vi.spyOn(console, 'error').mockImplementation(() => undefined);
  const config = readConfig({ DATABASE_URL: db.url, OPENBORE_FILES: folder, LOG_LEVEL: 'silent' });
  expect(await nightlyCommand(['--again'], config)).toBe(0);
  const text = (of: typeof say) => of.mock.calls.map(([line]) => String(line)).join('\n');
  const told = { said: text(say), warned: text(warn) };
  vi.restoreAllMocks();
  return told;
}

test("a base without the queue's tables, as after a restore, gets them, and the night forgets", async () => {
  await db.pool.query('DROP SCHEMA graphile_worker CASCADE');
  const { said, warned } = await night();
  expect(said).toContain('jobsForgotten 0');
  expect(said).toContain('forgettingFailed 0');
  expect(warned).not.toContain('not forgotten');
  expect(
    (await db.pool.query("SELECT to_regclass('graphile_worker.jobs') AS jobs")).rows[0].jobs,
  ).not.toBeNull();
}, 120_000);

test('what could not be forgotten is said with its error', async () => {
  await db.pool.query(`
    CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'the disk says no'; END $$;
    CREATE TRIGGER refuse BEFORE DELETE ON event FOR EACH STATEMENT EXECUTE FUNCTION refuse();`);
  const { said, warned } = await night();
  expect(said).toContain('forgettingFailed 1');
  expect(warned).toContain('the next night tries again: the disk says no');
}, 120_000);
