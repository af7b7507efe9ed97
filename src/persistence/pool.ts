import pg from 'pg';

const DATE = 1082;
const TIMESTAMPTZ = 1184;
const INT8 = 20;

/** Days stay `YYYY-MM-DD`, instants become RFC 3339 UTC, counters become numbers: no Date objects in rows. */
const types: pg.CustomTypesConfig = {
  getTypeParser: ((oid: number, format?: 'text' | 'binary') => {
    if (format !== 'binary') {
      if (oid === DATE) return (value: string) => value;
      if (oid === TIMESTAMPTZ) return (value: string) => new Date(value).toISOString();
      if (oid === INT8) return Number;
    }
    return format === 'binary' ? pg.types.getTypeParser(oid, 'binary') : pg.types.getTypeParser(oid, 'text');
  }) as pg.CustomTypesConfig['getTypeParser'],
};

export interface PoolOptions {
  connections?: number;
  statementTimeoutMs?: number;
  /** Told of idle connections that broke; the pool replaces them. */
  onLost?: (error: Error) => void;
}

/** The one pool that Prisma, COPY, cursors and jobs share. */
export function openPool(url: string, options: PoolOptions = {}): pg.Pool {
  const pool = new pg.Pool({
    connectionString: url,
    max: options.connections ?? 20,
    application_name: 'openbore',
    statement_timeout: options.statementTimeoutMs ?? 60_000,
    idle_in_transaction_session_timeout: 1_800_000,
    // Sessions read and write days and instants in UTC whatever the server's own zone.
    options: '-c timezone=UTC -c datestyle=ISO -c intervalstyle=iso_8601',
    types,
  });
  // Without listeners a stopping database would end the process: the pool's hears of idle connections, a
  // connection's own of one that is lent out, whose next query fails and tells its user.
  pool.on('error', (error) => options.onLost?.(error));
  pool.on('connect', (client) => client.on('error', () => undefined));
  return pool;
}
