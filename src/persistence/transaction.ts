import { DatabaseError, type Pool, type PoolClient } from 'pg';
import { Stopped } from '../actions/stopped.js';
import { isSilent } from './pool.js';

export interface TransactionOptions {
  /** Whose name the change log gets. */
  actor: string;
  /** The business's time, by which rows are dated; absent: the database's. */
  now?: Date;
  lockTimeoutMs?: number;
  /** Zero: none. */
  statementTimeoutMs?: number;
  /**
   * How often the work may be done again after a deadlock or a serialization failure; default 0.
   * Only for work that touches nothing but the database.
   */
  retries?: number;
}

const SERIALIZATION_FAILURE = '40001';
const DEADLOCK = '40P01';

/**
 * One transaction on one client: commits what `work` did, or nothing of it.
 *
 * @throws What `work` threw, or the database's refusal. When the connection is lost during COMMIT itself nobody
 *         knows whether it took place: the caller asks again with the same id or key.
 */
export async function inTransaction<T>(
  pool: Pool,
  options: TransactionOptions,
  work: (tx: PoolClient) => Promise<T>,
): Promise<T> {
  for (let failures = 0; ; failures++) {
    try {
      return await attempt(pool, options, work);
    } catch (error) {
      // The other side of the clash has gone on by now: no need to wait.
      if (failures >= (options.retries ?? 0) || !isClash(error)) throw error;
    }
  }
}

async function attempt<T>(
  pool: Pool,
  options: TransactionOptions,
  work: (tx: PoolClient) => Promise<T>,
): Promise<T> {
  const client = await pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('BEGIN');
    await client.query(
      `SELECT set_config('app.actor', $1, true), set_config('lock_timeout', $2, true), set_config('statement_timeout', $3, true), set_config('app.now', $4, true)`,
      [
        options.actor,
        `${options.lockTimeoutMs ?? 10_000}ms`,
        `${options.statementTimeoutMs ?? 60_000}ms`,
        options.now?.toISOString() ?? '',
      ],
    );
    const answer = await work(client);
    // PostgreSQL answers COMMIT with ROLLBACK where a failed statement was passed over in silence.
    const { command } = await client.query('COMMIT');
    if (command !== 'COMMIT')
      throw new Error('nothing was kept: a statement failed and its error was not passed on');
    return answer;
  } catch (error) {
    // Behind a statement that nobody answers, its own would wait as long.
    // Work that was given up may still ask for more: what it asks on a closed connection is kept nowhere.
    if (isSilent(error) || error instanceof Stopped) broken = error as Error;
    else
      await client.query('ROLLBACK').catch((lost: Error) => {
        broken = lost; // the connection is gone, and the transaction with it
      });
    throw error;
  } finally {
    client.release(broken);
  }
}

/**
 * Reads, all as of one instant and without a time limit, on one client; changes nothing.
 *
 * @throws What `read` threw.
 */
export async function inSnapshot<T>(pool: Pool, read: (tx: PoolClient) => Promise<T>): Promise<T> {
  const client = await pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY');
    await client.query('SET LOCAL statement_timeout = 0');
    await client.query(`SET LOCAL lock_timeout = '60s'`);
    return await read(client);
  } finally {
    await client.query('ROLLBACK').catch((lost: Error) => {
      broken = lost; // nothing was written: only the connection is gone
    });
    client.release(broken);
  }
}

function isClash(error: unknown): boolean {
  return error instanceof DatabaseError && (error.code === SERIALIZATION_FAILURE || error.code === DEADLOCK);
}
