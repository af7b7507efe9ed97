import type { Pool, PoolClient } from 'pg';

/** One statement as it went to the database. */
export interface Said {
  text: string;
  values: unknown[];
}

type Query = (...args: unknown[]) => unknown;

/** Notes every statement of a pool and of the connections it lends out. */
export function listenTo(pool: Pool): { said: Said[]; listens: boolean } {
  const heard = { said: [] as Said[], listens: true };
  const noting = (target: { query: Query }): void => {
    const query = target.query.bind(target);
    target.query = (...args) => {
      const [first, second] = args;
      const text = typeof first === 'string' ? first : String((first as { text?: string }).text ?? '');
      const values = (Array.isArray(second) ? second : (first as { values?: unknown[] }).values) ?? [];
      if (heard.listens && text !== '') heard.said.push({ text, values });
      return query(...args);
    };
  };
  // The pool's own query goes through a connection as well, so connections are enough.
  pool.on('connect', (client) => noting(client as unknown as { query: Query }));
  return heard;
}

const UUID = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g;

/** The same statements about other records: what was new in the sample is new again. */
export async function replay(
  client: PoolClient,
  said: readonly Said[],
  fresh: (old: string) => string | undefined,
): Promise<unknown[]> {
  let rows: unknown[] = [];
  for (const { text, values } of said) {
    // Several statements in one text answer several times.
    for (const answer of [
      await client.query(
        text,
        values.map((value) => renewed(value, fresh)),
      ),
    ].flat())
      if (answer.rows.length > 0) rows = answer.rows;
  }
  return rows;
}

function renewed(value: unknown, fresh: (old: string) => string | undefined): unknown {
  if (Array.isArray(value)) return value.map((each) => renewed(each, fresh));
  if (typeof value !== 'string') return value;
  return fresh(value) ?? value.replace(UUID, (id) => fresh(id) ?? id);
}
