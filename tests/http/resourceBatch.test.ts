import { parse } from 'csv-parse/sync';
import { stringify } from 'csv-stringify/sync';
import { beforeAll, expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { moveIn } from '../../src/demo/moveIn.js';
import { RESOURCES } from '../../src/http/resources/all.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const TODAY = '2026-10-01';
let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
  const demo = demoBusiness(1, TODAY);
  const { base } = demo;
  await importClientBase(t.house, { name: 'test' }, { base, source: 'demo', asOf: TODAY });
  await moveIn(t.house, demo);
}, 120_000);

const csvOf = async (house: TestHouse, path: string, units = 'us') =>
  (
    await house.call('owner', {
      method: 'GET',
      url: `/v1/${path}${path.includes('?') ? '&' : '?'}units=${units}`,
      headers: { accept: 'text/csv' },
    })
  ).text;

const putCsv = (
  house: TestHouse,
  path: string,
  payload: string,
  role: 'owner' | 'dispatcher' = 'dispatcher',
) =>
  house.call(role, {
    method: 'POST',
    url: `/v1/${path}/batch`,
    headers: { 'content-type': 'text/csv; charset=utf-8' },
    payload,
  });

/** Rows without what says how they came to be. */
const content = (csv: string) =>
  parse(csv, { columns: true }).map((row) => {
    const { version: _v, createdAt: _c, updatedAt: _u, ...rest } = row as Record<string, string>;
    return rest;
  });

const roleOf = (write: readonly string[]) => (write.includes('dispatcher') ? 'dispatcher' : 'owner');

test('every list taken back as it was given changes nothing, in either unit system', async () => {
  let taken = 0;
  for (const { path, write } of RESOURCES)
    for (const units of ['us', 'metric']) {
      const csv = await csvOf(t, path, units);
      const rows = content(csv).length;
      if (rows === 0 || rows > 2000) continue;
      const { status, body } = await putCsv(t, path, csv, roleOf(write));
      expect([path, status, body.detail]).toEqual([path, 200, undefined]);
      expect(body).toMatchObject({ new: 0, changed: 0, unchanged: rows });
      taken += rows;
    }
  expect(taken).toBeGreaterThan(2000);
}, 120_000);

/** Pits and lines name each other: pits first come without the line that lifts their water. */
async function bring(house: TestHouse, path: string, role: 'owner' | 'dispatcher', without?: string) {
  const [header = '', ...lines] = (await csvOf(t, path, 'metric')).split(/(?<=\n)(?=[0-9a-f]{8}-)/);
  for (let at = 0; at < lines.length; at += 2000) {
    const part = header + lines.slice(at, at + 2000).join('');
    const { status, body } = await putCsv(house, path, withoutColumns(part, ['version', without]), role);
    expect([path, status, body.detail, body.errors?.[0]]).toEqual([path, 200, undefined, undefined]);
  }
}

function withoutColumns(csv: string, columns: (string | undefined)[]): string {
  const rows = parse(csv, { columns: true }) as Record<string, string>[];
  const kept = Object.keys(rows[0] ?? {}).filter((name) => !columns.includes(name));
  return stringify(rows, { header: true, columns: kept });
}

/** What hangs on work orders, which are made by the service. */
const OF_ORDERS = new Set(['preconditions', 'promises']);

test('brought into an empty house in the order of the lists, the base is the same', async () => {
  const empty = await testHouse();
  const lists = RESOURCES.filter(({ path }) => !OF_ORDERS.has(path));
  for (const { path, write } of lists) {
    await bring(empty, path, roleOf(write), path === 'pits' ? 'dischargeLineId' : undefined);
    if (path === 'lines') await bring(empty, 'pits', 'dispatcher');
  }
  for (const { path } of lists)
    expect([path, content(await csvOf(empty, path, 'metric'))]).toEqual([
      path,
      content(await csvOf(t, path, 'metric')),
    ]);
}, 240_000);

test('a change by spreadsheet: one cell, under its version; what is new, what another changed meanwhile', async () => {
  const [site] = (await t.call('owner', { method: 'GET', url: '/v1/sites?limit=1' })).body.items;
  const changed = await putCsv(
    t,
    'sites',
    `id,version,accessNotes\n${site.id},${site.version},"gate, left"\n`,
  );
  expect(changed.body).toMatchObject({
    new: 0,
    changed: 1,
    unchanged: 0,
    items: [{ id: site.id, outcome: 'changed' }],
  });
  const read = await t.call('owner', { method: 'GET', url: `/v1/sites/${site.id}` });
  expect(read.body).toMatchObject({
    accessNotes: 'gate, left',
    address: site.address,
    version: site.version + 1,
  });
  const stale = await putCsv(t, 'sites', `id,version,accessNotes\n${site.id},${site.version},x\n`);
  expect(stale.status).toBe(412);
  const cleared = await putCsv(t, 'sites', `id,accessNotes\n${site.id},\n`);
  expect(cleared.body).toMatchObject({ changed: 1 });
  const json = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sites/batch',
    payload: {
      items: [
        { address: '2 Reed Bank', town: 'Brindle' },
        { id: site.id, town: site.town },
      ],
    },
  });
  expect(json.body).toMatchObject({ new: 1, changed: 0, unchanged: 1 });
});

test('one bad row and nothing is kept; the answer names line or item, column, and what would be right', async () => {
  const count = async () => (await t.pool.query('SELECT count(*) FROM site')).rows[0].count;
  const before = await count();
  const half = await putCsv(
    t,
    'sites',
    'address,town,latitude,longitude\n1 Good Way,Brindle,44.5,-90.2\n2 Bad Way,Brindle,north,-90.2\n',
  );
  expect([half.status, half.body.errors[0].pointer, half.body.errors[0].remedy]).toEqual([
    400,
    '#/line 3/latitude',
    'digits with a point',
  ]);
  const outOfBounds = await putCsv(
    t,
    'sites',
    'address,town,latitude,longitude\n1 Good Way,Brindle,44.5,-90.2\n2 Bad Way,Brindle,144.5,-90.2\n',
  );
  expect([outOfBounds.status, outOfBounds.body.errors[0].pointer]).toEqual([400, '#/items/1/latitude']);
  const gap = await putCsv(t, 'sites', 'address,town\n1 Good Way,Brindle\n2 Bad Way,\n');
  expect([gap.status, gap.body.errors[0].pointer]).toEqual([400, '#/items/1/town']);
  const unknown = await putCsv(t, 'sites', 'address,colour\n1 Good Way,red\n');
  expect([unknown.status, unknown.body.errors[0].pointer]).toEqual([400, '#/line 1/colour']);
  const ragged = await putCsv(t, 'sites', 'address,town\n1 Good Way\n');
  expect(ragged.status).toBe(400);
  const length = await putCsv(t, 'line-sections', 'lineId,length\nx,4 parsecs\n');
  expect(length.status).toBe(400);
  expect((await putCsv(t, 'sites', '')).status).toBe(400);
  expect(await count()).toBe(before);
  const elsewhere = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/sites',
    headers: { 'content-type': 'text/csv' },
    payload: 'address\nx\n',
  });
  expect(elsewhere.status).toBe(415);
});

test('what a spreadsheet would run as a formula comes back as it was', async () => {
  const notes = ['=1+1', "'=1+1", '+1 274-555-0100', '-', "'quoted'"];
  const { body } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/clients/batch',
    payload: { items: notes.map((note, i) => ({ name: `Formula ${i}`, note })) },
  });
  const csv = await csvOf(t, 'clients?q=Formula');
  expect(csv).not.toMatch(/,[=+-]/);
  expect((await putCsv(t, 'clients', csv)).body).toMatchObject({ unchanged: 5, changed: 0, new: 0 });
  expect(body.new).toBe(5);
});
