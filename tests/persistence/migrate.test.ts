import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Pool } from 'pg';
import { beforeEach, expect, onTestFinished, test } from 'vitest';
import { migrate, standing } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { emptyDatabase } from '../setup/testDatabase.js';

const OWN = join(import.meta.dirname, '../../prisma/migrations');
let folder: string;
let url: string;
let pool: Pool;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'openbore-migrations-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  url = await emptyDatabase();
  pool = openAnother();
  write('1_pit', 'CREATE TABLE pit_of_test (id integer PRIMARY KEY)');
  write(
    '2_depth',
    'ALTER TABLE pit_of_test ADD COLUMN depth_mm integer; INSERT INTO pit_of_test VALUES (1, 900)',
  );
});

function openAnother(): Pool {
  const another = openPool(url);
  onTestFinished(() => another.end());
  return another;
}

function write(name: string, sql: string): void {
  mkdirSync(join(folder, name), { recursive: true });
  writeFileSync(join(folder, name, 'migration.sql'), sql);
}

async function pits(): Promise<unknown[]> {
  return (await pool.query('SELECT * FROM pit_of_test')).rows;
}

test('applies what is missing, in order, once', async () => {
  expect(await migrate(pool, folder)).toEqual(['1_pit', '2_depth']);
  expect(await migrate(pool, folder)).toEqual([]);
  write('3_cover', 'ALTER TABLE pit_of_test ADD COLUMN cover text');
  expect(await migrate(pool, folder)).toEqual(['3_cover']);
  expect(await pits()).toEqual([{ id: 1, depth_mm: 900, cover: null }]);
});

test('instances that boot at once apply each migration once', async () => {
  const applied = await Promise.all(
    [pool, openAnother(), openAnother(), openAnother()].map((p) => migrate(p, folder)),
  );
  expect(applied.filter((names) => names.length > 0)).toEqual([['1_pit', '2_depth']]);
  expect(await pits()).toEqual([{ id: 1, depth_mm: 900 }]);
});

test('a migration that fails leaves nothing of itself, and says its name', async () => {
  write('3_half', 'ALTER TABLE pit_of_test ADD COLUMN cover text; SELECT 1 / 0');
  await expect(migrate(pool, folder)).rejects.toThrow('migration 3_half: division by zero');
  expect(await pits()).toEqual([{ id: 1, depth_mm: 900 }]);
  write('3_half', 'ALTER TABLE pit_of_test ADD COLUMN cover text');
  expect(await migrate(pool, folder)).toEqual(['3_half']);
});

test('a migration edited after it was applied is refused', async () => {
  await migrate(pool, folder);
  write('2_depth', 'ALTER TABLE pit_of_test ADD COLUMN depth_mm bigint');
  await expect(migrate(pool, folder)).rejects.toThrow('2_depth was edited after it was applied');
});

test('a database ahead of this release is refused', async () => {
  await migrate(pool, folder);
  rmSync(join(folder, '2_depth'), { recursive: true });
  await expect(migrate(pool, folder)).rejects.toThrow('ahead of this release: it has migration 2_depth');
});

test('a migration that another tool left half done is refused, and passes once resolved', async () => {
  await migrate(pool, folder);
  write('3_cover', 'ALTER TABLE pit_of_test ADD COLUMN cover text');
  await pool.query(
    `INSERT INTO _prisma_migrations (id, checksum, migration_name) VALUES ('x', 'x', '3_cover')`,
  );
  await expect(migrate(pool, folder)).rejects.toThrow('3_cover failed earlier');
  await pool.query(`UPDATE _prisma_migrations SET rolled_back_at = now() WHERE migration_name = '3_cover'`);
  expect(await migrate(pool, folder)).toEqual(['3_cover']);
});

test("keeps Prisma Migrate's record: name, SHA-256 of the file, finished", async () => {
  await migrate(pool, folder);
  const { rows } = await pool.query(
    'SELECT migration_name, checksum, finished_at IS NOT NULL AS finished, applied_steps_count FROM _prisma_migrations ORDER BY 1',
  );
  const checksum = createHash('sha256')
    .update('CREATE TABLE pit_of_test (id integer PRIMARY KEY)')
    .digest('hex');
  expect(rows[0]).toEqual({ migration_name: '1_pit', checksum, finished: true, applied_steps_count: 1 });
  expect(rows).toHaveLength(2);
});

test("the release's own migrations apply to an empty database", async () => {
  expect((await migrate(pool, OWN)).length).toBeGreaterThan(0);
  expect(await migrate(pool, OWN)).toEqual([]);
});

test('a migration that has to wait for others lets those behind it through, and tries again', async () => {
  await migrate(pool, folder);
  write('3_cover', 'ALTER TABLE pit_of_test ADD COLUMN cover text');
  const holder = await pool.connect();
  await holder.query('BEGIN');
  await holder.query('SELECT * FROM pit_of_test'); // as a backup or a night holds every table it has read
  const waits: [string, number][] = [];
  let heard = () => {};
  const tried = new Promise<void>((resolve) => {
    heard = resolve;
  });
  const done = migrate(pool, folder, {
    onWait: (name, tries) => {
      waits.push([name, tries]);
      heard();
    },
    pauseMs: 50,
  });
  await tried;
  expect(await pits()).toEqual([{ id: 1, depth_mm: 900 }]);
  await holder.query('COMMIT');
  holder.release();
  expect(await done).toEqual(['3_cover']);
  expect(waits[0]).toEqual(['3_cover', 1]);
}, 60_000);

test('how a database stands to a release is told without changing it', async () => {
  expect(await standing(pool, folder)).toEqual({ empty: true, missing: ['1_pit', '2_depth'], ahead: null });
  await migrate(pool, folder, { upTo: '1_pit' });
  expect(await standing(pool, folder)).toEqual({ empty: false, missing: ['2_depth'], ahead: null });
  await migrate(pool, folder);
  expect(await standing(pool, folder)).toEqual({ empty: false, missing: [], ahead: null });
  rmSync(join(folder, '2_depth'), { recursive: true });
  expect(await standing(pool, folder)).toEqual({ empty: false, missing: [], ahead: '2_depth' });
});

/** From here on; before, some came out of order, and bases exist that have them so. */
const FROM = '20261126143305_days_of_a_crew';
const history = spawnSync(
  'git',
  [
    'log',
    '--reverse',
    '--topo-order',
    '--no-renames',
    '--diff-filter=A',
    '--name-only',
    '--format=',
    '--',
    '*/migration.sql',
  ],
  { cwd: OWN, encoding: 'utf8' },
);
const isWhole =
  history.status === 0 &&
  spawnSync('git', ['rev-parse', '--is-shallow-repository'], { cwd: OWN, encoding: 'utf8' }).stdout.trim() ===
    'false';

test.skipIf(!isWhole)(
  'migrations are added behind the last one: a base that has it never gets an older one',
  () => {
    const names = history.stdout
      .split('\n')
      .filter(Boolean)
      .map((path) => path.split('/').at(-2) ?? '')
      .filter((name) => existsSync(join(OWN, name)));
    // What is not on record yet comes behind it.
    names.push(...readdirSync(OWN).filter((name) => /^\d/.test(name) && !names.includes(name)));
    expect(names).toContain(FROM);
    const added = names.slice(names.indexOf(FROM));
    expect(added).toEqual([...added].sort());
    for (const name of names.slice(0, names.indexOf(FROM))) expect(name < FROM, name).toBe(true);
  },
);
