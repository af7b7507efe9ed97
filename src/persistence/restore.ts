import { createReadStream } from 'node:fs';
import { pipeline } from 'node:stream/promises';
import type { Pool, PoolClient } from 'pg';
import { from as copyFrom } from 'pg-copy-streams';
import { type BackedTable, type Manifest, tableFile } from '../actions/backedUp.js';
import { tablesOf } from './backup.js';
import { type HouseFaces, holdPost, keptHouse, settleHouse } from './keptHouse.js';
import { migrate } from './migrate.js';
import { inSnapshot, inTransaction } from './transaction.js';

/**
 * Fills a new database from a backup: its own migrations first, then all rows in one transaction with every
 * constraint checked, then the migrations that came since. What fails leaves the database without a row.
 *
 * @param folder   Where the files lie that `readBackup` found whole.
 * @throws {Error} When the database holds anything, or the backup is of a later release.
 */
export async function restore(
  pool: Pool,
  folder: string,
  manifest: Manifest,
  {
    migrations,
    onTable,
    bringFiles,
    house = {},
    live = false,
  }: {
    migrations: string;
    onTable?: (name: string, share: number) => void;
    /** Puts the files in place, before the rows that point to them. */
    bringFiles?: () => Promise<void>;
    /** What the business is kept in, where the backup is of a release that did not keep it. */
    house?: Partial<HouseFaces>;
    /** Whether it is the real base from now on: else nothing goes out. */
    live?: boolean;
  },
): Promise<void> {
  const last = manifest.migrations.at(-1)?.name ?? '';
  await inSnapshot(pool, refuseUsed);
  await migrate(pool, migrations, { upTo: last });
  await inSnapshot(pool, (client) => refuseOtherHistory(client, manifest));
  await bringFiles?.();
  await inTransaction(pool, { actor: 'restore', statementTimeoutMs: 0 }, (client) =>
    fill(client, folder, manifest, onTable),
  );
  await migrate(pool, migrations);
  if ((await keptHouse(pool)) === null) await settleHouse(pool, house);
  await pool.query('UPDATE house SET backed_up_at = NULL');
  if (!live) await holdPost(pool);
  await pool.query('ANALYZE');
}

/** A table that migrations fill by themselves. */
const SEEDED = new Set(['change_life']);

async function refuseUsed(client: PoolClient): Promise<void> {
  for (const { name } of await tablesOf(client)) await refuseRows(client, name);
}

async function refuseRows(client: PoolClient, name: string): Promise<void> {
  if (SEEDED.has(name)) return;
  const { rows } = await client.query(`SELECT 1 FROM public.${client.escapeIdentifier(name)} LIMIT 1`);
  if (rows.length > 0)
    throw new Error(
      `the database is in use (${name} has rows): restore into a new one, so that nothing is lost`,
    );
}

async function refuseOtherHistory(client: PoolClient, manifest: Manifest): Promise<void> {
  const { rows } = await client.query<{ migration_name: string; checksum: string }>(
    'SELECT migration_name, checksum FROM _prisma_migrations WHERE rolled_back_at IS NULL',
  );
  const here = new Map(rows.map((row) => [row.migration_name, row.checksum]));
  const later = rows
    .map((row) => row.migration_name)
    .find((name) => name > (manifest.migrations.at(-1)?.name ?? ''));
  if (later)
    throw new Error(
      `the database is already at a later release than the backup (migration ${later}): restore into one without tables`,
    );
  const strange = manifest.migrations.find(({ name, checksum }) => here.get(name) !== checksum);
  if (strange)
    throw new Error(
      `the backup (release ${manifest.version}) has migration ${strange.name}, which this release has not: restore it with the release that made it, or a later one`,
    );
}

async function fill(
  client: PoolClient,
  folder: string,
  manifest: Manifest,
  onTable?: (name: string, share: number) => void,
): Promise<void> {
  const tables = await tablesOf(client);
  const links = await liftLinks(client);
  for (const { name, parent, bounds } of manifest.partitions)
    await client.query(
      `CREATE TABLE IF NOT EXISTS ${client.escapeIdentifier(name)} PARTITION OF ${client.escapeIdentifier(parent)} ${bounds}`,
    );
  for (const [at, { name }] of tables.entries()) {
    const table = manifest.tables.find((each) => each.name === name);
    if (!table) throw new Error(`the backup has no table ${name}`);
    onTable?.(name, at / tables.length);
    await fillTable(client, folder, table);
  }
  for (const { name, lastValue } of manifest.sequences)
    await client.query('SELECT setval($1::regclass, $2::bigint)', [
      `public.${client.escapeIdentifier(name)}`,
      lastValue,
    ]);
  // Transactions count from elsewhere here: old changes come before all new ones, and places of before are no good.
  await client.query('UPDATE change_log SET xact = 0');
  // Where the backup is of a release without one, the migration that brings it begins it.
  if (tables.some(({ name }) => name === 'change_life'))
    await client.query('INSERT INTO change_life (id) VALUES (gen_random_uuid())');
  for (const { table, name, definition } of links)
    await client.query(`ALTER TABLE ${table} ADD CONSTRAINT ${client.escapeIdentifier(name)} ${definition}`);
}

/**
 * Takes away what would look at rows while their partners are not there yet: foreign keys, which are put back and
 * checked at the end. Works without a superuser, so also on a managed server.
 */
async function liftLinks(client: PoolClient): Promise<{ table: string; name: string; definition: string }[]> {
  const { rows } = await client.query<{ table: string; name: string; definition: string }>(
    `SELECT conrelid::regclass::text AS table, conname AS name, pg_get_constraintdef(c.oid) AS definition
       FROM pg_constraint c JOIN pg_namespace n ON n.oid = c.connamespace
      WHERE contype = 'f' AND n.nspname = 'public' AND conparentid = 0 ORDER BY conname`,
  );
  for (const { table, name } of rows)
    await client.query(`ALTER TABLE ${table} DROP CONSTRAINT ${client.escapeIdentifier(name)}`);
  return rows;
}

async function fillTable(client: PoolClient, folder: string, table: BackedTable): Promise<void> {
  const name = client.escapeIdentifier(table.name);
  const columns = table.columns.map((column) => client.escapeIdentifier(column)).join(', ');
  await client.query(`ALTER TABLE ${name} DISABLE TRIGGER USER`); // and nobody else writes to it from here on
  if (SEEDED.has(table.name)) await client.query(`DELETE FROM ${name}`);
  else await refuseRows(client, table.name);
  const stream = client.query(
    copyFrom(`COPY public.${name} (${columns}) FROM STDIN (FORMAT csv, HEADER true)`),
  );
  await pipeline(createReadStream(tableFile(folder, table.name)), stream);
  if (stream.rowCount !== table.rows)
    throw new Error(`${table.name}: ${stream.rowCount} rows came in of ${table.rows}`);
  await client.query(`ALTER TABLE ${name} ENABLE TRIGGER USER`);
}
