import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import * as words from '../../src/domain/words.js';
import { LIST_COLUMNS, makeRowStore } from '../../src/persistence/rowStore.js';
import { inTransaction } from '../../src/persistence/transaction.js';
import { type TestDatabase, testDatabase } from '../setup/testDatabase.js';

let db: TestDatabase;
let site: string;
let system: string;

beforeAll(async () => {
  db = await testDatabase();
  const rows = makeRowStore(db.pool);
  site = randomUUID();
  system = randomUUID();
  await rows.insert('site', { id: site, address: '1 Marsh Gate', town: 'Brindle', area: 'Brindle' });
  await rows.insert('system', { id: system, site_id: site, name: 'Pit', kind: 'pit' });
});

const line = (more: object = {}) => ({
  id: randomUUID(),
  site_id: site,
  system_id: system,
  name: 'A',
  kind: 'footing_drain',
  ...more,
});

test('every word list of the domain is the list of its CHECK', async () => {
  const { rows } = await db.pool.query(
    `SELECT conname AS name, pg_get_constraintdef(oid) AS text FROM pg_constraint WHERE conname LIKE '%\\_word'`,
  );
  const lists = Object.values(words).filter((list): list is readonly string[] & typeof list =>
    Array.isArray(list),
  );
  expect(rows.length).toBeGreaterThan(40);
  for (const { name, text } of rows) {
    const allowed = [...String(text).matchAll(/'([a-z_]+)'/g)].map((match) => match[1]);
    expect(
      lists.some((list) => list.join() === allowed.join()),
      `${name}: ${allowed}`,
    ).toBe(true);
  }
});

test('what drains to what cannot run in a circle', async () => {
  const a = line();
  const b = line({ drains_to: 'line', drains_to_line_id: a.id });
  const rows = makeRowStore(db.pool);
  await rows.insert('line', a);
  await rows.insert('line', b);
  await expect(rows.update('line', a.id, { drains_to: 'line', drains_to_line_id: b.id })).rejects.toThrow(
    /circle/,
  );
});

test('two sections of a line cannot lie on the same metres at the same time', async () => {
  const rows = makeRowStore(db.pool);
  const l = line();
  await rows.insert('line', l);
  const section = (from: number, to: number) => ({
    id: randomUUID(),
    line_id: l.id,
    from_m: from,
    to_m: to,
    material: 'clay',
    bore_mm: 100,
  });
  await rows.insert('line_section', section(0, 10));
  await rows.insert('line_section', section(10, 30));
  await expect(rows.insert('line_section', section(5, 12))).rejects.toThrow(/line_section_no_overlap/);
  expect((await rows.get('line', l.id))?.['main_bore_mm']).toBe(100);
});

test('a change raises the version and is logged with its actor', async () => {
  const id = randomUUID();
  await inTransaction(db.pool, { actor: 'ann' }, async (tx) => {
    await makeRowStore(tx).insert('client', { id, name: 'Client' });
    await makeRowStore(tx).update('client', id, { name: 'Other' });
    await makeRowStore(tx).update('client', id, { name: 'Other' });
  });
  const { rows } = await db.pool.query(
    'SELECT op, version, actor FROM change_log WHERE row_id = $1 ORDER BY seq',
    [id],
  );
  expect(rows).toEqual([
    { op: 'created', version: 1, actor: 'ann' },
    { op: 'changed', version: 2, actor: 'ann' },
  ]);
});

test('an inspection is never edited', async () => {
  const rows = makeRowStore(db.pool);
  const l = line();
  await rows.insert('line', l);
  const id = randomUUID();
  await rows.insert('inspection', {
    id,
    line_id: l.id,
    observed_at: '2026-01-01T00:00:00Z',
    author: 'a',
    phase: 'no_cleaning',
    method: 'camera',
    raw: {},
    conversion_version: 1,
    occlusion: 0.2,
    standard_error: 0.08,
  });
  await expect(rows.update('inspection', id, { raw: { occlusion: 0.3 } })).rejects.toThrow(/never edited/);
  expect(
    await rows.update('inspection', id, {
      withdrawn_at: '2026-01-02T00:00:00Z',
      withdrawn_because: 'wrong house',
    }),
  ).not.toBeNull();
});

test('list columns are known by name, and no jsonb column has such a name', async () => {
  const { rows } = await db.pool.query(
    `SELECT DISTINCT column_name, data_type FROM information_schema.columns
      WHERE table_schema = 'public' AND data_type IN ('ARRAY', 'jsonb') ORDER BY column_name`,
  );
  const named = (type: string) => rows.filter((row) => row.data_type === type).map((row) => row.column_name);
  expect(named('ARRAY')).toEqual([...LIST_COLUMNS].sort());
  expect(named('jsonb').length).toBeGreaterThan(20);
  expect(named('jsonb').filter((column) => LIST_COLUMNS.has(column))).toEqual([]);
});
