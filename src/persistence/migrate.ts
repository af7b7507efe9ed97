import { createHash, randomUUID } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { DatabaseError, type Pool, type PoolClient } from 'pg';

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

/** Statements of others wait behind one that waits for a lock: so it waits briefly, and asks again. */
const LOCK_MS = 3_000;
const LOCK_TRIES = 40;
const LOCK_PAUSE_MS = 5_000;
const LOCK_NOT_AVAILABLE = '55P03';

export interface MigrateOptions {
  /** Name of the last migration to apply: the state of an earlier release. */
  upTo?: string;
  /** Told before a migration is tried again because others hold what it needs. */
  onWait?: (name: string, tries: number) => void;
  /** Between two tries. */
  pauseMs?: number;
}

const namesIn = async (folder: string): Promise<string[]> =>
  (await readdir(folder, { withFileTypes: true }))
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort();

/**
 * How a database stands to this release, which is not changed by the question.
 *
 * @returns `empty`: it never was migrated; else the migrations that it lacks, and one that this release does not know.
 */
export async function standing(
  pool: Pool,
  folder: string,
): Promise<{ empty: boolean; missing: string[]; ahead: string | null }> {
  const names = await namesIn(folder);
  const { rows: tables } = await pool.query("SELECT to_regclass('_prisma_migrations') IS NULL AS empty");
  if (tables[0]?.empty === true) return { empty: true, missing: names, ahead: null };
  const { rows } = await pool.query<{ name: string }>(
    'SELECT migration_name AS name FROM _prisma_migrations WHERE finished_at IS NOT NULL AND rolled_back_at IS NULL',
  );
  const there = new Set(rows.map(({ name }) => name));
  return {
    empty: there.size === 0,
    missing: names.filter((name) => !there.has(name)),
    ahead: [...there].find((name) => !names.includes(name)) ?? null,
  };
}

/**
 * Brings the database to this release; keeps Prisma Migrate's table, checksums and lock.
 *
 * @returns Names of the migrations applied now.
 * @throws {Error} When the database is ahead of this release, or a migration was edited or failed before.
 */
export async function migrate(
  pool: Pool,
  folder: string,
  { upTo, onWait, pauseMs = LOCK_PAUSE_MS }: MigrateOptions = {},
): Promise<string[]> {
  const names = await namesIn(folder);
  const client = await pool.connect();
  try {
    await client.query('SET statement_timeout = 0');
    await client.query('SET lock_timeout = 0');
    await client.query('SELECT pg_advisory_lock($1)', [MIGRATE_LOCK]);
    await client.query(`SET lock_timeout = ${LOCK_MS}`);
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
      const isNew = await patiently(
        () => apply(client, name, sql, old),
        (tries) => onWait?.(name, tries),
        pauseMs,
      );
      if (isNew) applied.push(name);
    }
    return applied;
  } finally {
    // A lost connection has let go of the lock by itself.
    client.release(true);
  }
}

/** Tries again while somebody else holds what the work needs; between two tries those behind it go on. */
async function patiently<T>(
  work: () => Promise<T>,
  onWait: (tries: number) => void,
  pauseMs: number,
): Promise<T> {
  for (let tries = 1; ; tries++) {
    try {
      return await work();
    } catch (error) {
      const { cause } = error as Error;
      if (!(cause instanceof DatabaseError) || cause.code !== LOCK_NOT_AVAILABLE || tries === LOCK_TRIES)
        throw error;
      onWait(tries);
      await sleep(pauseMs);
    }
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
