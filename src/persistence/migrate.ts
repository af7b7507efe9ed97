import { createHash, randomUUID } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Pool, PoolClient } from 'pg';

/** Prisma Migrate's own lock id: several instances may boot at once. */
const MIGRATE_LOCK = 72707369;

const RECORD = `CREATE TABLE IF NOT EXISTS _prisma_migrations (
  id VARCHAR(36) PRIMARY KEY NOT NULL, checksum VARCHAR(64) NOT NULL, finished_at TIMESTAMPTZ,
  migration_name VARCHAR(255) NOT NULL, logs TEXT, rolled_back_at TIMESTAMPTZ,
  started_at TIMESTAMPTZ NOT NULL DEFAULT now(), applied_steps_count INTEGER NOT NULL DEFAULT 0)`;

interface Applied {
  migration_name: string;
  checksum: string;
  finished_at: string | null;
}

/**
 * Brings the database to this release; keeps Prisma Migrate's table, checksums and lock.
 *
 * @param upTo Name of the last migration to apply: the state of an earlier release.
 * @returns Names of the migrations applied now.
 * @throws {Error} When the database is ahead of this release, or a migration was edited or failed before.
 */
export async function migrate(
  pool: Pool,
  folder: string,
  { upTo }: { upTo?: string } = {},
): Promise<string[]> {
  const entries = await readdir(folder, { withFileTypes: true });
  const names = entries
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort();
  const client = await pool.connect();
  try {
    await client.query('SET statement_timeout = 0');
    await client.query('SELECT pg_advisory_lock($1)', [MIGRATE_LOCK]);
    await client.query(RECORD);
    const { rows } = await client.query<Applied>(
      'SELECT migration_name, checksum, finished_at FROM _prisma_migrations WHERE rolled_back_at IS NULL',
    );
    const ahead = rows.find((row) => !names.includes(row.migration_name));
    if (ahead)
      throw new Error(`the database is ahead of this release: it has migration ${ahead.migration_name}`);
    const applied: string[] = [];
    for (const name of names.filter((each) => upTo === undefined || each <= upTo)) {
      const sql = await readFile(join(folder, name, 'migration.sql'), 'utf8');
      const old = rows.find((row) => row.migration_name === name);
      if (await apply(client, name, sql, old)) applied.push(name);
    }
    return applied;
  } finally {
    // A lost connection has let go of the lock by itself.
    client.release(true);
  }
}

async function apply(
  client: PoolClient,
  name: string,
  sql: string,
  old: Applied | undefined,
): Promise<boolean> {
  const checksum = createHash('sha256').update(sql).digest('hex');
  if (old?.finished_at && old.checksum === checksum) return false;
  if (old)
    throw new Error(
      old.finished_at
        ? `migration ${name} was edited after it was applied`
        : `migration ${name} failed earlier; resolve it by hand`,
    );
  await client.query('BEGIN'); // DDL is transactional: the change and its record commit together
  try {
    await client.query(sql);
    await client.query(
      'INSERT INTO _prisma_migrations (id, checksum, migration_name, finished_at, applied_steps_count) VALUES ($1, $2, $3, clock_timestamp(), 1)',
      [randomUUID(), checksum, name],
    );
    await client.query('COMMIT');
    return true;
  } catch (error) {
    await client.query('ROLLBACK');
    throw new Error(`migration ${name}: ${error instanceof Error ? error.message : String(error)}`, {
      cause: error,
    });
  }
}
