import type pg from 'pg';

/**
 * Whether requests left anything behind: the rows that transactions committed meanwhile carry their numbers. Nothing
 * else may write to the database; others on the same server may.
 */
export class Untouched {
  private readonly pool: pg.Pool;
  private writtenBetween = '';

  constructor(pool: pg.Pool) {
    this.pool = pool;
  }

  async begin(): Promise<void> {
    const { rows } = await this.pool.query<{ name: string }>(
      `SELECT c.oid::regclass::text AS name FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
        WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p') AND NOT c.relispartition ORDER BY 1`,
    );
    // What was removed stands in the change log, under the name of its table.
    this.writtenBetween = rows
      .map(
        ({ name }) =>
          `SELECT DISTINCT ${name === 'change_log' ? 'resource' : `'${name}'`} AS name FROM ${name} WHERE xmin::text::bigint >= $1 AND xmin::text::bigint < $2`,
      )
      .join(' UNION ');
  }

  /** The next transaction number, as of now. */
  async mark(): Promise<number> {
    const { rows } = await this.pool.query<{ next: string }>(
      'SELECT pg_snapshot_xmax(pg_current_snapshot())::text AS next',
    );
    return Number(rows[0]?.next);
  }

  /** Tables that transactions committed since the mark wrote to. */
  async touchedSince(mark: number): Promise<string[]> {
    const now = await this.mark();
    if (now === mark) return [];
    const { rows } = await this.pool.query<{ committed: number }>(
      `SELECT count(*)::int AS committed FROM generate_series($1::bigint, $2::bigint - 1) x
        WHERE pg_xact_status(x::text::xid8) = 'committed'`,
      [mark, now],
    );
    if (rows[0]?.committed === 0) return [];
    const { rows: found } = await this.pool.query<{ name: string }>(this.writtenBetween, [mark, now]);
    return found.map(({ name }) => name);
  }
}
