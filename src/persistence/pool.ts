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
  /** How long a caller waits for a free connection, and for the server to take a new one; absent: without end. */
  connectMs?: number;
  /** How long a statement's answer is waited for here, though the server say nothing; absent: without end. COPY has none. */
  answerMs?: number;
  /** Told of idle connections that broke; the pool replaces them. */
  onLost?: (error: Error) => void;
}

/** A pool for Prisma, COPY, cursors and jobs alike. */
export function openPool(url: string, options: PoolOptions = {}): pg.Pool {
  const pool = new pg.Pool({
    connectionString: url,
    max: options.connections ?? 20,
    application_name: 'openbore',
    statement_timeout: options.statementTimeoutMs ?? 60_000,
    idle_in_transaction_session_timeout: 1_800_000,
    // A statement beside a transaction waits no longer for a lock than one in it.
    lock_timeout: 10_000,
    keepAlive: true,
    keepAliveInitialDelayMillis: 10_000,
    connectionTimeoutMillis: options.connectMs ?? 0,
    // Sessions read and write days and instants in UTC whatever the server's own zone.
    options: '-c timezone=UTC -c datestyle=ISO -c intervalstyle=iso_8601',
    types,
  });
  countTimeouts(pool);
  // Without listeners a stopping database would end the process: the pool's hears of idle connections, a
  // connection's own of one that is lent out, whose next query fails and tells its user.
  pool.on('error', (error) => options.onLost?.(error));
  pool.on('connect', (client) => {
    client.on('error', () => undefined);
    if (options.answerMs !== undefined) boundAnswers(client, options.answerMs);
  });
  return pool;
}

const timeouts = new WeakMap<pg.Pool, number>();

/** How many callers of this pool got no connection in time, since it was opened. */
export const timeoutsOf = (pool: pg.Pool): number => timeouts.get(pool) ?? 0;

/** A pool's own and a new connection's clock are as long: either may be the first. */
const TOO_LATE =
  /^(timeout exceeded when trying to connect|timeout expired|Connection terminated due to connection timeout)$/;

/** `pool.query` takes its connection with a callback, everybody else with a promise. */
function countTimeouts(pool: pg.Pool): void {
  const connect = pool.connect.bind(pool);
  const note = (error: Error | undefined) => {
    if (error && TOO_LATE.test(error.message)) timeouts.set(pool, timeoutsOf(pool) + 1);
  };
  pool.connect = ((done?: Parameters<typeof connect>[0]) => {
    if (done)
      return connect((error, client, release) => {
        note(error);
        done(error, client, release);
      });
    return connect().catch((error: Error) => {
      note(error);
      throw error;
    });
  }) as typeof pool.connect;
}

/** The driver's own limit would count for COPY too, which ends when its data does. */
function boundAnswers(client: pg.PoolClient, answerMs: number): void {
  const ask = client.query.bind(client) as (...args: unknown[]) => unknown;
  client.query = ((asked: unknown, ...rest: unknown[]) => {
    if (typeof asked === 'string') return ask({ text: asked, query_timeout: answerMs }, ...rest);
    const isStream = typeof asked === 'object' && asked !== null && 'submit' in asked;
    return isStream ? ask(asked, ...rest) : ask({ query_timeout: answerMs, ...(asked as object) }, ...rest);
  }) as typeof client.query;
}

/** Whether the server said nothing for too long: its connection is of no more use. */
export const isSilent = (error: unknown): boolean =>
  error instanceof Error && error.message === 'Query read timeout';
