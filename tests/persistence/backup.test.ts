import { appendFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Pool } from 'pg';
import { expect, onTestFinished, test } from 'vitest';
import { backedFile, MANIFEST } from '../../src/actions/backedUp.js';
import { filesOf } from '../../src/actions/files/receiveFile.js';
import { turns } from '../../src/actions/files/turns.js';
import { bringFiles, copyFiles } from '../../src/files/backedFiles.js';
import { readBackup } from '../../src/files/backupFolder.js';
import { buildApp } from '../../src/http/app.js';
import { fileEyes } from '../../src/outside/fileEyes.js';
import { folderStore } from '../../src/outside/folderStore.js';
import { backup, tablesOf } from '../../src/persistence/backup.js';
import { makeHouse } from '../../src/persistence/house.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { restore as fill } from '../../src/persistence/restore.js';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import { emptyDatabase } from '../setup/testDatabase.js';
import { type Json, testHouse } from '../setup/testHouse.js';

const MIGRATIONS = join(import.meta.dirname, '../../prisma/migrations');
const restore = async (pool: Pool, folder: string) =>
  fill(pool, folder, await readBackup(folder), { migrations: MIGRATIONS });
const ABOUT = { version: '0.0.0-test', madeAt: new Date('2026-10-01T12:00:00Z') };

/** A day's work on record: a plan accepted, a night done, a reading with text that CSV must quote. */
async function busyHouse(): Promise<PlannedHouse> {
  const t = await plannedHouse();
  for (let east = 0; east < 4; east += 1) await t.order({ east });
  const { id } = await t.plan();
  await t.accept(id);
  const [line] = (await t.call('dispatcher', { method: 'GET', url: '/v1/lines' })).body.items;
  const found = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/inspections',
    payload: {
      lineId: line.id,
      observedAt: '2026-09-30T15:00:00Z',
      phase: 'no_cleaning',
      reading: { method: 'camera', share: 0.2 },
      note: 'thick, "red"\nat the elbow; \\N is not nothing – größer',
    },
  });
  expect(found.status, JSON.stringify(found.body)).toBe(201);
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: THURSDAY } });
  await t.work();
  return t;
}

function newFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-backup-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  return folder;
}

async function newPool(): Promise<Pool> {
  const pool = openPool(await emptyDatabase());
  onTestFinished(() => pool.end());
  return pool;
}

/** Every row of every table as PostgreSQL writes it; the log's transactions count from elsewhere. */
async function contents(pool: Pool): Promise<Record<string, string[]>> {
  const client = await pool.connect();
  try {
    const all: Record<string, string[]> = {};
    for (const { name, columns } of await tablesOf(client)) {
      // Of this base alone.
      if (name === 'change_life' || name === 'house') continue;
      const kept = columns.filter((column) => name !== 'change_log' || column !== 'xact');
      const { rows } = await client.query(`SELECT (${kept.join(', ')})::text AS row FROM ${name} ORDER BY 1`);
      all[name] = rows.map(({ row }) => row);
    }
    return all;
  } finally {
    client.release();
  }
}

const catalogue = async (pool: Pool): Promise<Json> =>
  (
    await pool.query(
      `SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid) AS definition, convalidated FROM pg_constraint
        WHERE connamespace = 'public'::regnamespace
        UNION ALL SELECT tgrelid::regclass::text, tgname, tgenabled::text, true FROM pg_trigger WHERE NOT tgisinternal
        ORDER BY 1, 2, 3`,
    )
  ).rows;

test('a drill: backed up at work, restored elsewhere, every row and constraint is there and work goes on', async () => {
  const t = await busyHouse();
  const folder = newFolder();
  const manifest = await backup(t.pool, folder, ABOUT);
  const filled = manifest.tables.filter((table) => table.rows > 0).map((table) => table.name);
  expect(filled).toEqual(
    expect.arrayContaining([
      'change_log',
      'crew',
      'inspection',
      'line',
      'route',
      'stop',
      'trend',
      'work_order',
    ]),
  );
  const pool = await newPool();
  await restore(pool, folder);
  expect(await contents(pool)).toEqual(await contents(t.pool));
  expect(await catalogue(pool)).toEqual(await catalogue(t.pool));

  const { clock, zone, units, currency, version } = t.house;
  const house = makeHouse(pool, { clock, zone, units, currency, version });
  const before = await t.house.stores.changes.now();
  const after = await house.stores.changes.now();
  expect(after.life).not.toBe(before.life);
  await house.transact({ name: 'test' }, (stores) => stores.rows.insert('depot', newDepot()));
  // Behind whatever else runs on the test server: a change shows when no transaction before it is open.
  await expect
    .poll(
      async () =>
        (await house.stores.changes.since(after, 10, null)).rows.map(
          ({ resource, op }) => `${resource} ${op}`,
        ),
      { timeout: 30_000 },
    )
    .toEqual(['depot created']);
});

const newDepot = () => ({
  id: '01999999-0000-7000-8000-000000000001',
  name: 'East yard',
  latitude: 44.5,
  longitude: -90.2,
});

test('photographs and papers come with it, each with its sum', async () => {
  const t = await testHouse();
  const { rows } = t.house.stores;
  const siteId = '01999999-0000-7000-8000-0000000000a1';
  await rows.insert('site', { id: siteId, address: '1 Marsh Gate', town: 'Brindle', area: 'Brindle' });
  const made = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/attachments',
    payload: { siteId, takenAt: '2026-10-01T10:00:00Z' },
  });
  const url = `/v1/attachments/${made.body.id}/file`;
  const pdf = Buffer.from('%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n');
  const put = await t.app.inject({
    method: 'PUT',
    url,
    headers: {
      authorization: `Bearer ${t.keys.dispatcher}`,
      'content-type': 'multipart/form-data; boundary=x',
    },
    payload: Buffer.concat([
      Buffer.from('--x\r\nContent-Disposition: form-data; name="file"; filename="a.pdf"\r\n\r\n'),
      pdf,
      Buffer.from('\r\n--x--\r\n'),
    ]),
  });
  expect(put.statusCode, put.body).toBe(200);

  const folder = newFolder();
  const manifest = await backup(t.pool, folder, {
    ...ABOUT,
    copyFiles: async (keys) => (await copyFiles(filesOf(t.house).store, folder, keys)).files,
  });
  expect(manifest.files).toHaveLength(1);
  const pool = await newPool();
  const store = folderStore(newFolder());
  await fill(pool, folder, await readBackup(folder), {
    migrations: MIGRATIONS,
    bringFiles: () => bringFiles(store, folder, manifest.files),
  });
  const { clock, zone, units, currency, version } = t.house;
  const house = makeHouse(pool, {
    clock,
    zone,
    units,
    currency,
    version,
    files: { store, eyes: fileEyes, turns: turns() },
  });
  const app = await buildApp(house, { requestsPerMinute: 0 });
  const got = await app.inject({
    url: `${url}?copy=original`,
    headers: { authorization: `Bearer ${t.keys.dispatcher}` },
  });
  await app.close();
  expect([got.statusCode, got.rawPayload.equals(pdf)]).toEqual([200, true]);

  appendFileSync(backedFile(folder, manifest.files[0]?.key ?? ''), 'x');
  await expect(readBackup(folder)).rejects.toThrow('is not as the backup wrote it');
});

test('an app that comes with a place of before is told to begin anew', async () => {
  const t = await testHouse();
  const { body } = await t.call('dispatcher', { method: 'GET', url: '/v1/changes' });
  await t.pool.query('INSERT INTO change_life (id) VALUES (gen_random_uuid())'); // as a restore does
  const told = await t.call('dispatcher', { method: 'GET', url: `/v1/changes?since=${body.next}` });
  expect(told.status).toBe(410);
  expect(told.body.errors[0]).toMatchObject({ pointer: '#/querystring:since' });
  expect(told.body.errors[0].detail).toMatch('before a backup was restored');
});

test('refused: a folder that holds something, a database in use', async () => {
  const t = await testHouse();
  const folder = newFolder();
  await backup(t.pool, folder, ABOUT);
  await expect(backup(t.pool, folder, ABOUT)).rejects.toThrow('is not empty');
  await expect(restore(t.pool, folder)).rejects.toThrow('the database is in use');
});

test('refused and nothing kept: a backup broken off, cut, altered, or of a later release', async () => {
  const t = await testHouse();
  const folder = newFolder();
  const manifest = await backup(t.pool, folder, ABOUT);
  const pool = await newPool();
  const write = (change: object) =>
    writeFileSync(join(folder, MANIFEST), JSON.stringify({ ...manifest, ...change }));

  write({ migrations: [...manifest.migrations, { name: '29990101000000_later', checksum: 'x' }] });
  await expect(restore(pool, folder)).rejects.toThrow('which this release has not');
  write({ format: 99 });
  await expect(restore(pool, folder)).rejects.toThrow('is not one of this service');
  write({});
  const file = join(folder, 'access_key.csv');
  const whole = readFileSync(file);
  appendFileSync(file, 'x');
  await expect(restore(pool, folder)).rejects.toThrow('access_key.csv is not as the backup wrote it');
  rmSync(file);
  await expect(readBackup(folder)).rejects.toThrow('access_key.csv cannot be read');
  writeFileSync(file, whole);
  rmSync(join(folder, MANIFEST));
  await expect(readBackup(folder)).rejects.toThrow('it is no backup, or one that was broken off');
  await migrate(pool, MIGRATIONS);
  expect(Object.values(await contents(pool)).every((rows) => rows.length === 0)).toBe(true);
});

test('a row that breaks a constraint stops the restore, and nothing of it stays', async () => {
  const t = await busyHouse();
  await t.pool.query('ALTER TABLE stop DROP CONSTRAINT stop_work_order_id_fkey');
  await t.pool.query(`UPDATE stop SET work_order_id = gen_random_uuid() WHERE work_order_id IS NOT NULL`);
  const folder = newFolder();
  await backup(t.pool, folder, ABOUT);
  const pool = await newPool();
  await expect(restore(pool, folder)).rejects.toThrow('stop_work_order_id_fkey');
  expect(Object.values(await contents(pool)).every((rows) => rows.length === 0)).toBe(true);
});
