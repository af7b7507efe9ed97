import { beforeAll, expect, test } from 'vitest';
import type { PageAsk, Row } from '../../src/actions/ports.js';
import { makeRowStore } from '../../src/persistence/rowStore.js';
import { type TestDatabase, testDatabase } from '../setup/testDatabase.js';

const id = (n: number) => `00000000-0000-4000-8000-0000000000${n.toString(16).padStart(2, '0')}`;
/** Twenty tanks, five of unknown content, the others of 0, 20 or 30 litres: many alike. */
const TANKS = Array.from({ length: 20 }, (_, n) => ({
  id: id((n * 7) % 20),
  litres: n % 4 === 3 ? null : ((n * 3) % 4) * 10,
}));

let db: TestDatabase;
beforeAll(async () => {
  db = await testDatabase();
  await db.pool.query('CREATE TABLE tank (id uuid PRIMARY KEY, litres integer)');
  for (const tank of TANKS) await db.pool.query('INSERT INTO tank VALUES ($1, $2)', [tank.id, tank.litres]);
});

/** Page after page to the end. */
async function walk(ask: Pick<PageAsk, 'sort' | 'limit' | 'where'>): Promise<Row[]> {
  const rows = makeRowStore(db.pool);
  const read: Row[] = [];
  for (;;) {
    const last = read.at(-1);
    const page = await rows.page('tank', {
      ...ask,
      ...(last ? { after: { value: last[ask.sort.column], id: String(last['id']) } } : {}),
    });
    read.push(...page);
    if (page.length < ask.limit) return read;
    expect(read.length).toBeLessThanOrEqual(TANKS.length);
  }
}

test.each([1, 2, 3, 7, 20, 50])(
  'pages of %i, read one after another, hold every row once, in order',
  async (limit) => {
    const known = TANKS.filter(({ litres }) => litres !== null).sort(
      (a, b) => Number(a.litres) - Number(b.litres) || (a.id < b.id ? -1 : 1),
    );
    const unknown = TANKS.filter(({ litres }) => litres === null).sort((a, b) => (a.id < b.id ? -1 : 1));
    const sorted = (descending: boolean) =>
      walk({ where: [], sort: { column: 'litres', descending }, limit });
    expect(await sorted(false)).toEqual([...known, ...unknown]);
    // What is not known comes last either way.
    expect(await sorted(true)).toEqual([...known.toReversed(), ...unknown]);
  },
);

test('a filter holds for rows without a value as well', async () => {
  const some = [id(1), id(2), ...TANKS.filter(({ litres }) => litres === null).map((tank) => tank.id)];
  const read = await walk({
    where: [{ column: 'id', is: 'in', value: some }],
    sort: { column: 'litres', descending: true },
    limit: 2,
  });
  expect(read.map((row) => row['id']).sort()).toEqual([...new Set(some)].sort());
});
