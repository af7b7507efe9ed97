import { randomUUID } from 'node:crypto';
import { cp, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeAll, beforeEach, expect, test, vi } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { runNight } from '../../src/actions/night/runNight.js';
import { plainTools } from '../../src/actions/plans/plainTools.js';
import { RECORD_KINDS, STAY } from '../../src/actions/records/recordKinds.js';
import { exportCommand } from '../../src/commands/export.js';
import { importCommand } from '../../src/commands/import.js';
import { readConfig } from '../../src/config.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { moveIn } from '../../src/demo/moveIn.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const TODAY = '2026-10-01';
/** Enough that every kind of record is there; ten times the demo comes in as well (openapi/import.md). */
const SITES = 40;
let from: TestHouse;
let into: TestHouse;
let folder: string;
let said: string[];

beforeAll(async () => {
  [from, into] = [await testHouse(), await testHouse()];
  const demo = demoBusiness(1, TODAY, SITES);
  await importClientBase(from.house, { name: 'test' }, { base: demo.base, source: 'demo', asOf: TODAY });
  await moveIn(from.house, demo);
  await addWhatTheDemoLacks();
  folder = await mkdtemp(join(tmpdir(), 'records-'));
}, 300_000);

beforeEach(() => {
  said = [];
  for (const stream of ['log', 'error'] as const)
    vi.spyOn(console, stream).mockImplementation((line) => said.push(String(line)));
});
afterEach(() => vi.restoreAllMocks());

const configOf = (house: TestHouse) => readConfig({ DATABASE_URL: house.url });
const exported = async (house: TestHouse, name: string): Promise<string> => {
  const dir = join(folder, name);
  expect(await exportCommand(['--dir', dir], configOf(house)), said.join('\n')).toBe(0);
  return join(dir, 'records');
};
const filesOf = async (dir: string): Promise<Record<string, string>> => {
  const names = (await readdir(dir)).sort();
  return Object.fromEntries(
    await Promise.all(names.map(async (name) => [name, await readFile(join(dir, name), 'utf8')] as const)),
  );
};

/** Texts that spreadsheets would reckon, a placed order, a chain of readings, records of rare kinds. */
async function addWhatTheDemoLacks(): Promise<void> {
  const { rows } = from.house.stores;
  const [site, line] = [(await rows.all('site', []))[0] ?? {}, (await rows.all('line', []))[0] ?? {}];
  const crew = (await rows.all('crew', []))[0] ?? {};
  // As it was taken before an address was of one line.
  await rows.update('site', String(site['id']), { address: '12 Oak Row\nUnit 3' });
  const add = async (table: string, row: object) => {
    const id = randomUUID();
    await rows.insert(table, { id, ...row });
    return id;
  };
  const order = await add('work_order', {
    site_id: site['id'],
    cause: 'due',
    minutes: 60,
    state: 'placed',
    water_l: 300.25,
    because_of: JSON.stringify([{ code: 'risk', text: '=1+1' }]),
  });
  await add('work_order_task', {
    work_order_id: order,
    position: 1,
    kind: 'jet',
    line_id: line['id'],
    minutes: 30,
  });
  await add('precondition', {
    work_order_id: order,
    kind: 'quote_accepted',
    state: 'met',
    met_by: '@office',
    met_at: '2026-09-01T12:00:00.123Z',
    facts: { text: 'yes' },
  });
  await add('promise', {
    work_order_id: order,
    day: '2026-07-20',
    told_to: '+Ann',
    told_at: '2026-07-01T12:00:00Z',
    told_by: 'office',
    told_how: 'phone',
  });
  await add('note', {
    site_id: site['id'],
    text: '  =SUM(A1)\n"quoted", \'-x',
    noted_at: '2026-07-01T12:00:00Z',
    author: '-Tern',
    author_id: randomUUID(),
  });
  await add('note', {
    site_id: site['id'],
    text: "'=already",
    noted_at: '2026-07-01T12:00:00Z',
    author: 'Tern',
    author_id: randomUUID(),
  });
  await add('rain', { ended_at: '2026-07-01T12:00:00Z', author: 'Tern', area: 'Mill Side' });
  await add('holiday', { day: '2026-12-25', name: 'Midwinter' });
  await add('decision', {
    site_id: site['id'],
    line_ids: [line['id']],
    kind: 'postponement',
    decided_by: 'Ann',
    decided_on: '2026-07-01',
    until_day: '2026-12-01',
    risk_told: 'it may plug',
  });
  await add('phone_call', {
    kind: 'alarm',
    received_at: '2026-09-01T12:00:00Z',
    taken_by: 'office',
    site_id: site['id'],
    urgency: 'today',
    respond_by: '2026-09-01T16:00:00Z',
  });
  await add('kit_item', {
    name: 'Jetter 9',
    kind: 'jetter',
    flow_lps: 1 / 3,
    reach_m: 60.96,
    pressure_kpa: 13789.5,
  });
  const first = await add('inspection', {
    line_id: line['id'],
    observed_at: '2026-03-01T15:00:00Z',
    author: 'Tern',
    crew_id: crew['id'],
    phase: 'no_cleaning',
    method: 'camera',
    raw: { occlusion: 0.3 },
    conversion_version: 1,
    occlusion: 0.1 + 0.2,
    standard_error: 0.08,
    bound: 'exact',
    replaced_at: '2026-03-02T15:00:00Z',
  });
  await add('inspection', {
    line_id: line['id'],
    observed_at: '2026-03-01T15:00:00Z',
    author: 'Tern',
    phase: 'no_cleaning',
    method: 'camera',
    raw: { occlusion: 0.2 },
    conversion_version: 1,
    occlusion: 0.2,
    standard_error: 0.08,
    bound: 'exact',
    replaces_id: first,
  });
  await from.house.transact({ name: 'test' }, ({ settings }) =>
    settings.put('papers', { businessName: '=Alder' }, 'test'),
  );
}

const duesOf = async (house: TestHouse) =>
  (await house.pool.query('SELECT line_id, due_on::text, due_rule FROM trend ORDER BY line_id')).rows;

test('every table goes out, or it is said why it stays', async () => {
  const { rows } = await from.pool.query(
    `SELECT c.relname AS name FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p') AND NOT c.relispartition AND c.relname <> '_prisma_migrations'`,
  );
  const named = [...RECORD_KINDS.map(({ table }) => table), ...Object.keys(STAY)].sort();
  expect(named).toEqual(rows.map(({ name }) => name).sort());
  const told = await readFile('openapi/import.md', 'utf8');
  for (const { name } of RECORD_KINDS) expect(told, name).toContain(`\`${name}\``);
  for (const table of Object.keys(STAY)) expect(told, table).toContain(`\`${table}\``);
});

test('a base goes out, comes into a fresh one, goes out again: every file byte for byte', async () => {
  const first = await exported(from, 'first');
  expect(said.join('\n')).toMatch(/exported: 40 sites, .*; records: \d{4} of 47 kinds/);
  expect(await importCommand(['--records', first, '--dry-run'], configOf(into)), said.join('\n')).toBe(0);
  expect(said.at(-1)).toMatch(/^dry run, nothing kept: 1 settings, /);
  expect((await into.pool.query('SELECT count(*)::int AS n FROM site')).rows[0].n).toBe(0);

  expect(await importCommand(['--records', first], configOf(into)), said.join('\n')).toBe(0);
  expect(said.at(-1)).toMatch(/^imported: .*40 sites.* 0 already there$/);
  const before = await filesOf(first);
  const after = await filesOf(await exported(into, 'second'));
  expect(Object.keys(after)).toEqual(RECORD_KINDS.map(({ name }) => `${name}.csv`).sort());
  for (const [name, text] of Object.entries(before)) expect(after[name] === text, name).toBe(true);
  // What a spreadsheet would reckon stands behind an apostrophe in the file, and not in the base.
  expect(before['promises.csv']).toContain(",'+Ann,");
  expect(
    (await into.pool.query('SELECT told_to FROM promise WHERE told_to IS NOT NULL')).rows,
  ).toContainEqual({ told_to: '+Ann' });
  expect((await into.pool.query(`SELECT text FROM note WHERE author = '-Tern'`)).rows).toEqual([
    { text: '  =SUM(A1)\n"quoted", \'-x' },
  ]);

  // Again: nothing new; the next order's number goes on.
  expect(await importCommand(['--records', first], configOf(into))).toBe(0);
  expect(said.at(-1)).toMatch(/^imported: \d+ already there$/);
  const { rows } = await into.pool.query(
    `INSERT INTO work_order (id, site_id, cause, minutes) SELECT gen_random_uuid(), id, 'due', 10 FROM site LIMIT 1 RETURNING number, (SELECT max(number) FROM work_order) AS last`,
  );
  expect(rows[0].number).toBeGreaterThan(rows[0].last);
  await into.pool.query('DELETE FROM work_order WHERE number = $1', [rows[0].number]);
}, 500_000);

test('a night over either base sets the same dates', async () => {
  for (const { house } of [from, into])
    await runNight(house, {
      businessDay: TODAY,
      askedBy: 'test',
      holder: randomUUID(),
      routeSeconds: 0.1,
      tools: plainTools,
    });
  const dues = await duesOf(from);
  expect(dues.length).toBeGreaterThan(60);
  expect(await duesOf(into)).toEqual(dues);
}, 900_000);

test('a fault is named by file, line and column, and then nothing comes in', async () => {
  const good = join(folder, 'first', 'records');
  const dir = join(folder, 'faulty');
  const changed = async (name: string, change: (text: string) => string) => {
    await rm(dir, { recursive: true, force: true });
    await cp(good, dir, { recursive: true });
    await writeFile(join(dir, name), change(await readFile(join(dir, name), 'utf8')));
    said = [];
    const fresh = await testHouse();
    expect(await importCommand(['--records', dir], configOf(fresh))).toBe(1);
    expect(said.at(-1)).toMatch(/^\d+ faults?.*; nothing was imported\.$/);
    expect((await fresh.pool.query('SELECT count(*)::int AS n FROM client')).rows[0].n).toBe(0);
    return said.join('\n');
  };
  expect(await changed('kit-items.csv', (text) => text.replace('60.96 m', '60.96 yd'))).toMatch(
    /^kit-items\.csv line \d+, reach "60\.96 yd": is no such quantity; a number, a blank and a unit, as 4 m/,
  );
  expect(await changed('rains.csv', (text) => text.replace('2026-07-01T12:00:00Z', '0x10'))).toBe(
    'rains.csv line 2, endedAt "0x10": is no instant; an instant as 2026-03-04T14:30:00Z\n1 fault; nothing was imported.',
  );
  expect(await changed('holidays.csv', (text) => text.replace('archivedOn', 'colour'))).toContain(
    'holidays.csv line 1, colour: is no column of this file; columns are id, day, name, archivedOn',
  );
  expect(await changed('contacts.csv', (text) => `${text}${text.split('\n')[1]}\n`)).toMatch(
    /contacts\.csv line \d+, id .*: doubled: line 2 has it too/,
  );
  const lost = await changed('promises.csv', (text) =>
    text
      .replace(/^(?:[^,]*,){2}/m, (cells) => cells)
      .replace(/\n([0-9a-f-]{36}),[0-9a-f-]{36},/, `\n$1,${randomUUID()},`),
  );
  expect(lost).toMatch(/^promises\.csv line 2, workOrderId "[0-9a-f-]{36}": nothing has the id/m);
}, 600_000);

test('a folder without records is told what would be in it', async () => {
  expect(await importCommand(['--records', tmpdir()], configOf(into))).toBe(2);
  expect(said.at(-1)).toContain('clients.csv');
});
