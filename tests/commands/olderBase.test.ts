import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Pool } from 'pg';
import { beforeEach, expect, onTestFinished, test, vi } from 'vitest';
import { MANIFEST } from '../../src/actions/backedUp.js';
import { backupCommand } from '../../src/commands/backup.js';
import { exportCommand } from '../../src/commands/export.js';
import { importCommand } from '../../src/commands/import.js';
import { keyCommand } from '../../src/commands/key.js';
import { nightlyCommand } from '../../src/commands/nightly.js';
import { restoreCommand } from '../../src/commands/restore.js';
import { readConfig } from '../../src/config.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { LINE, layFirstBooks, MIGRATIONS, missingOf, RELEASES } from '../setup/firstBooks.js';
import { emptyDatabase } from '../setup/testDatabase.js';

let folder: string;
const say = vi.spyOn(console, 'log');
beforeEach(() => {
  say.mockImplementation(() => undefined);
  folder = mkdtempSync(join(tmpdir(), 'openbore-older-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
});

async function base(files: string) {
  const url = await emptyDatabase();
  const pool = openPool(url, { connections: 2 });
  onTestFinished(() => pool.end());
  return {
    pool,
    config: readConfig({ DATABASE_URL: url, OPENBORE_FILES: join(folder, files), LOG_LEVEL: 'silent' }),
  };
}
const releasesOf = async (pool: Pool): Promise<string[]> =>
  (await pool.query('SELECT migration_name AS name FROM _prisma_migrations ORDER BY name')).rows.map(
    ({ name }) => name,
  );

test('no command works on a base of an earlier release: each says what to do and leaves it as it is', async () => {
  writeFileSync(join(folder, 'sites.csv'), 'client,address,last_cleaned\nA. Reed,1 Marsh Gate,2026-01-05\n');
  for (const upTo of [RELEASES[0] ?? '', RELEASES.at(-2) ?? '']) {
    const { pool, config } = await base('files');
    await layFirstBooks(pool);
    await migrate(pool, MIGRATIONS, { upTo });
    const before = await releasesOf(pool);
    const commands = {
      key: () => keyCommand(['--name', 'Ann', '--role', 'owner'], config),
      export: () => exportCommand(['--dir', join(folder, 'out')], config),
      nightly: () => nightlyCommand([], config),
      import: () => importCommand(['--dir', folder], config),
    };
    for (const [name, run] of Object.entries(commands))
      await expect(run(), `${name}, ${upTo}`).rejects.toThrow(/of an earlier release.*`npm run migrate`/);
    expect(await releasesOf(pool)).toEqual(before);
    // A folder may have been made: nothing is in it.
    expect(existsSync(join(folder, 'out')) ? readdirSync(join(folder, 'out')) : []).toEqual([]);
    expect((await pool.query('SELECT FROM access_key')).rowCount).toBe(0);
  }
}, 180_000);

test('a base of an earlier release is backed up as it is, and restored by this one with all its rows', async () => {
  const { pool, config } = await base('old-files');
  await layFirstBooks(pool);
  const to = join(folder, 'backup');
  expect(await backupCommand(['--to', to], config)).toBe(0);
  expect(await releasesOf(pool)).toEqual([RELEASES[0]]);
  const { migrations } = JSON.parse(readFileSync(join(to, MANIFEST), 'utf8'));
  expect(migrations.map(({ name }: { name: string }) => name)).toEqual([RELEASES[0]]);
  expect(await restoreCommand(['--from', to, '--check'], config)).toBe(0);

  const fresh = await base('new-files');
  expect(await restoreCommand(['--from', to], { ...fresh.config, TIME_ZONE: 'Europe/Berlin' })).toBe(0);
  expect(await releasesOf(fresh.pool)).toEqual(RELEASES);
  expect(await missingOf(fresh.pool)).toEqual([]);
  // The first release did not keep its zone: what is set is kept from now on.
  const { rows } = await fresh.pool.query('SELECT time_zone, post_held_since IS NOT NULL AS held FROM house');
  expect(rows).toEqual([{ time_zone: 'Europe/Berlin', held: true }]);
  // And a command works on it.
  expect(await keyCommand(['--name', 'Ann', '--role', 'owner'], fresh.config)).toBe(0);
  const shares = await fresh.pool.query('SELECT occlusion FROM inspection WHERE line_id = $1 ORDER BY 1', [
    LINE,
  ]);
  expect(shares.rows.map(({ occlusion }) => occlusion)).toEqual([0.1, 0.2, 0.3]);
}, 180_000);
