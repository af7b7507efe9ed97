import type { PoolClient } from 'pg';
import { beforeAll, beforeEach, expect, test } from 'vitest';
import { type CopyRow, type CopyValue, copyIn, copyLine, copyOut } from '../../src/persistence/copy.js';
import { inTransaction } from '../../src/persistence/transaction.js';
import { type TestDatabase, testDatabase } from '../setup/testDatabase.js';

let db: TestDatabase;
const asAnn = { actor: 'ann' };

beforeAll(async () => {
  db = await testDatabase();
  await db.pool.query(`CREATE TABLE found (
    number integer, share float8, note text, on_day date, at timestamptz, sure boolean, tags text[], raw jsonb, seal bytea)`);
});

beforeEach(() => db.pool.query('TRUNCATE found'));

const put = (columns: string[], rows: CopyValue[][]) =>
  inTransaction(db.pool, asAnn, (tx) => copyIn(tx, 'found', columns, rows));

async function read<T>(query: string, each: (row: CopyRow) => T): Promise<T[]> {
  const got: T[] = [];
  await inTransaction(db.pool, asAnn, (tx) => copyOut(tx, query, (row) => got.push(each(row))));
  return got;
}

const AWKWARD = [
  '',
  'plain',
  'tab\there',
  'two\nlines\r\n',
  'back\\slash',
  '\\N',
  '\\.',
  'naïve Ærø 排水',
  '"quoted" {a,b}',
];

test('every value comes back as it went in, by query', async () => {
  const columns = ['number', 'share', 'note', 'on_day', 'at', 'sure', 'tags', 'raw', 'seal'];
  const at = new Date('2026-03-01T06:30:00.125Z');
  const row = [
    -7,
    0.1 + 0.2,
    'pit\tnorth',
    '2026-03-01',
    at,
    true,
    AWKWARD,
    { a: AWKWARD, b: null },
    Buffer.from([0, 92, 255]),
  ];
  expect(await put(columns, [row, columns.map(() => null)])).toBe(2);
  const { rows } = await db.pool.query('SELECT * FROM found ORDER BY number NULLS LAST');
  expect(rows[0]).toEqual({
    number: -7,
    share: 0.30000000000000004,
    note: 'pit\tnorth',
    on_day: '2026-03-01',
    at: '2026-03-01T06:30:00.125Z',
    sure: true,
    tags: AWKWARD,
    raw: { a: AWKWARD, b: null },
    seal: Buffer.from([0, 92, 255]),
  });
  expect(Object.values(rows[1])).toEqual(columns.map(() => null));
});

test('and by COPY, awkward text included', async () => {
  await put(
    ['number', 'note'],
    AWKWARD.map((note, number) => [number, note]),
  );
  expect(await read('SELECT note FROM found ORDER BY number', (row) => row.text(0))).toEqual(AWKWARD);
});

test('a word is the same text, met first or again', async () => {
  const words = [...AWKWARD, 'gel', 'crust', 'crust', 'gel', ...AWKWARD];
  await put(
    ['number', 'note'],
    [...words, null].map((note, number) => [number, note]),
  );
  expect(await read('SELECT note FROM found ORDER BY number', (row) => row.word(0))).toEqual([
    ...words,
    null,
  ]);
});

test('numbers are read from the bytes: signs, exponents, NULL', async () => {
  const shares = [0, -1.5, 1e-300, 6.02e23, 0.1 + 0.2, null];
  await put(
    ['number', 'share'],
    shares.map((share, i) => [i * -1_000_003, share]),
  );
  const got = await read('SELECT number, share FROM found ORDER BY number DESC', (row) => [
    row.integer(0),
    row.float(1),
    row.isNull(1),
  ]);
  expect(got).toEqual(
    shares.map((share, i) => [i === 0 ? 0 : i * -1_000_003, share ?? Number.NaN, share === null]),
  );
});

test('rows that chunks cut in two are whole again', async () => {
  const note = 'x'.repeat(5_000);
  const rows = Array.from({ length: 400 }, (_, i) => [i, `${note}${i}`]); // 2 MB, sent in pieces of 64 kB
  expect(await put(['number', 'note'], rows)).toBe(400);
  const got = await read('SELECT number, note FROM found ORDER BY number', (row) => [
    row.integer(0),
    row.text(1),
  ]);
  expect(got).toEqual(rows);
});

test('a refused row, or rows that stop half-way, leave nothing, and the connection can be used on', async () => {
  await expect(put(['number'], [[1], ['seven']])).rejects.toThrow('invalid input syntax for type integer');
  await expect(put(['number', 'note'], [[1, 'a'], [2]])).rejects.toThrow('1 values for columns');
  const manyAfterIt = (function* () {
    yield ['seven'];
    for (let i = 0; i < 200_000; i++) yield [i];
  })();
  await expect(
    inTransaction(db.pool, asAnn, (tx) => copyIn(tx, 'found', ['number'], manyAfterIt)),
  ).rejects.toThrow('invalid input syntax for type integer');
  const broken = inTransaction(db.pool, asAnn, (tx) =>
    copyIn(
      tx,
      'found',
      ['number'],
      (function* () {
        yield [1];
        throw new Error('the source broke');
      })(),
    ),
  );
  await expect(broken).rejects.toThrow('the source broke');
  expect(await put(['number'], [[1]])).toBe(1);
  expect((await db.pool.query('SELECT number FROM found')).rows).toEqual([{ number: 1 }]);
});

test('a query that fails, or a visitor that throws, rejects, and the pool can be used on', async () => {
  await put(
    ['number'],
    Array.from({ length: 50_000 }, (_, i) => [i]),
  );
  await expect(read('SELECT 1 / (number - 3) FROM found', () => 0)).rejects.toThrow('division by zero');
  const thrown = read('SELECT number FROM found', () => {
    throw new Error('cannot use it');
  });
  await expect(thrown).rejects.toThrow('cannot use it');
  expect((await db.pool.query('SELECT count(*) FROM found')).rows).toEqual([{ count: 50_000 }]);
});

test('a connection lost in the middle rejects, both ways', async () => {
  const numbers = Array.from({ length: 100_000 }, (_, i) => [i]);
  const cut = async (tx: PoolClient) => {
    const { rows } = await tx.query('SELECT pg_backend_pid() AS pid');
    return () => db.pool.query('SELECT pg_terminate_backend($1)', [rows[0]['pid']]);
  };
  const writing = inTransaction(db.pool, asAnn, async (tx) => {
    const end = await cut(tx);
    const source = (async function* () {
      yield* numbers;
      await end();
      yield* numbers;
    })();
    return copyIn(tx, 'found', ['number'], source);
  });
  await expect(writing).rejects.toThrow(/terminat|EPIPE|ECONNRESET/); // whichever is noticed first

  await put(['number'], numbers);
  const reading = inTransaction(db.pool, asAnn, async (tx) => {
    const end = await cut(tx);
    const endless = 'SELECT a.number FROM found a CROSS JOIN found b';
    let rows = 0;
    return copyOut(tx, endless, () => {
      if (rows++ === 0) void end();
    });
  });
  await expect(reading).rejects.toThrow(/terminat/);
});

test('a line of the format: tabs between, \\N for nothing', () => {
  expect(copyLine([1, null, 'a\tb', false])).toBe('1\t\\N\ta\\tb\tf\n');
});
