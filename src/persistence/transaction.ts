import type { Pool, PoolClient } from 'pg';

export interface TransactionOptions {
  /** Whose name the change log gets. */
  actor: string;
  lockTimeoutMs?: number;
  /** Zero: none. */
  statementTimeoutMs?: number;
}

/** One transaction on one client: commits what `work` did, or nothing of it. */
export async function inTransaction<T>(
  pool: Pool,
  options: TransactionOptions,
  work: (tx: PoolClient) => Promise<T>,
): Promise<T> {
  const client = await pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('BEGIN');
    await client.query(
      `SELECT set_config('app.actor', $1, true), set_config('lock_timeout', $2, true), set_config('statement_timeout', $3, true)`,
      [options.actor, `${options.lockTimeoutMs ?? 10_000}ms`, `${options.statementTimeoutMs ?? 60_000}ms`],
    );
    const answer = await work(client);
    await client.query('COMMIT');
    return answer;
  } catch (error) {
    await client.query('ROLLBACK').catch((lost: Error) => {
      broken = lost; // the connection is gone, and the transaction with it
    });
    throw error;
  } finally {
    client.release(broken);
  }
}
