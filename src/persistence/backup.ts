import { createHash } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, open, readdir, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { Pool, PoolClient } from 'pg';
import { to as copyTo } from 'pg-copy-streams';
import {
  BACKUP_FORMAT,
  type BackedFile,
  type BackedTable,
  MANIFEST,
  type Manifest,
  tableFile,
} from '../actions/backedUp.js';
import { inSnapshot } from './transaction.js';

/** Our own tables in the order of their names; parts of a partitioned one are copied through it. */
const TABLES = `
  SELECT c.relname AS name, array_agg(a.attname::text ORDER BY a.attnum) AS columns
    FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
    JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
   WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p') AND NOT c.relispartition AND c.relname <> '_prisma_migrations'
   GROUP BY c.relname ORDER BY c.relname`;

const PARTITIONS = `
  SELECT c.relname AS name, p.relname AS parent, pg_get_expr(c.relpartbound, c.oid) AS bounds
    FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhrelid JOIN pg_class p ON p.oid = i.inhparent
    JOIN pg_namespace n ON n.oid = p.relnamespace
   WHERE n.nspname = 'public' AND c.relkind = 'r' AND c.relispartition ORDER BY c.relname`;

const SEQUENCES = `
  SELECT sequencename AS name, last_value::text AS "lastValue" FROM pg_sequences
   WHERE schemaname = 'public' AND last_value IS NOT NULL ORDER BY sequencename`;

/** Every file was in its place before the row that points to it was kept. */
const FILE_KEYS = `
  SELECT key FROM stored_file, LATERAL (VALUES (original_key), (public_key), (thumbnail_key)) AS of_file (key)
   WHERE key IS NOT NULL ORDER BY key`;

/**
 * Writes every table as CSV, all as of one instant, and last a manifest: a folder without one is no backup.
 * Work goes on meanwhile. Jobs of the queue are not in it: they only wake, the truth is in our own rows.
 *
 * @param folder New, or empty.
 * @throws {Error} When the folder holds something already.
 */
export async function backup(
  pool: Pool,
  folder: string,
  about: {
    version: string;
    madeAt: Date;
    onTable?: (name: string, share: number) => void;
    /** Copies files by their keys beside the tables; absent: rows only. */
    copyFiles?: (keys: readonly string[]) => Promise<BackedFile[]>;
  },
): Promise<Manifest> {
  await mkdir(folder, { recursive: true, mode: 0o700 });
  if ((await readdir(folder)).length > 0) throw new Error(`${folder} is not empty: name a new folder`);
  const manifest = await inSnapshot(pool, async (client): Promise<Manifest> => {
    const tables = await tablesOf(client);
    const done: BackedTable[] = [];
    for (const [at, table] of tables.entries()) {
      about.onTable?.(table.name, at / tables.length);
      done.push({ ...table, ...(await writeTable(client, folder, table)) });
    }
    return {
      format: BACKUP_FORMAT,
      madeAt: about.madeAt.toISOString(),
      version: about.version,
      migrations: await migrationsOf(client),
      tables: done,
      partitions: (await client.query(PARTITIONS)).rows,
      sequences: (await client.query(SEQUENCES)).rows,
      files: (await about.copyFiles?.(await fileKeysOf(client, tables))) ?? [],
    };
  });
  await writeManifest(folder, manifest);
  return manifest;
}

export async function tablesOf(client: PoolClient): Promise<{ name: string; columns: string[] }[]> {
  return (await client.query(TABLES)).rows;
}

async function migrationsOf(client: PoolClient): Promise<Manifest['migrations']> {
  const { rows } = await client.query(
    `SELECT migration_name AS name, checksum FROM _prisma_migrations
      WHERE finished_at IS NOT NULL AND rolled_back_at IS NULL ORDER BY migration_name`,
  );
  return rows;
}

async function writeTable(
  client: PoolClient,
  folder: string,
  { name, columns }: { name: string; columns: string[] },
): Promise<{ rows: number; bytes: number; sha256: string }> {
  const chosen = columns.map((column) => client.escapeIdentifier(column)).join(', ');
  const from = `SELECT ${chosen} FROM public.${client.escapeIdentifier(name)}`;
  const stream = client.query(copyTo(`COPY (${from}) TO STDOUT (FORMAT csv, HEADER true)`));
  const hash = createHash('sha256');
  let bytes = 0;
  const counted = new Transform({
    transform(chunk: Buffer, _encoding, done) {
      hash.update(chunk);
      bytes += chunk.length;
      done(null, chunk);
    },
  });
  await pipeline(stream, counted, createWriteStream(tableFile(folder, name), { mode: 0o600, flush: true }));
  return { rows: stream.rowCount, bytes, sha256: hash.digest('hex') };
}

/** Last, and under its own name only when it is wholly on the disk. */
async function writeManifest(folder: string, manifest: Manifest): Promise<void> {
  const draft = join(folder, `${MANIFEST}.part`);
  await writeFile(draft, `${JSON.stringify(manifest, null, 2)}\n`, { mode: 0o600, flush: true });
  await rename(draft, join(folder, MANIFEST));
  const handle = await open(folder);
  await handle.sync();
  await handle.close();
}

/** The first releases had no files. */
async function fileKeysOf(client: PoolClient, tables: readonly { name: string }[]): Promise<string[]> {
  if (!tables.some(({ name }) => name === 'stored_file')) return [];
  return (await client.query(FILE_KEYS)).rows.map(({ key }) => String(key));
}

/** For the metrics; a base of a release that kept no such record is left as it is. */
export async function markBackedUp(pool: Pool): Promise<void> {
  const { rows } = await pool.query("SELECT to_regclass('house') IS NOT NULL AS there");
  if (rows[0]?.there === true) await pool.query('UPDATE house SET backed_up_at = now()');
}
