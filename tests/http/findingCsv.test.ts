import { randomUUID } from 'node:crypto';
import { parse } from 'csv-parse/sync';
import { stringify } from 'csv-stringify/sync';
import { beforeAll, expect, test } from 'vitest';
import { type ReportedLines, reportedLines } from '../setup/reportedLines.js';

let t: ReportedLines;
let line: string;
let pit: string;

beforeAll(async () => {
  t = await reportedLines();
  const site = await t.site();
  line = await t.line(site, { length_m: 20 });
  await t.house.stores.rows.insert('line_section', {
    id: randomUUID(),
    line_id: line,
    material: 'pvc',
    bore_mm: 100,
    slope: 0.01,
  });
  const system = randomUUID();
  pit = randomUUID();
  await t.house.stores.rows.insert('system', { id: system, site_id: site, name: 'Pit', kind: 'pit' });
  await t.house.stores.rows.insert('pit', { id: pit, site_id: site, system_id: system });
});

const list = (path: string, query = '') =>
  t.call('owner', { method: 'GET', url: `/v1/${path}${query}`, headers: { accept: 'text/csv' } });
const bring = (path: string, csv: string, query = '') =>
  t.call('owner', {
    method: 'POST',
    url: `/v1/${path}/batch${query}`,
    payload: csv,
    headers: { 'content-type': 'text/csv' },
  });
const record = async (path: string, payload: object) => {
  const answer = await t.call('owner', { method: 'POST', url: `/v1/${path}`, payload });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};
const table = async (name: string) =>
  (await t.pool.query(`SELECT * FROM ${name} ORDER BY id`)).rows.map(
    ({ received_at: _r, created_at: _c, updated_at: _u, version: _v, ...row }) => row,
  );

test('readings of every form, pits and plugs come out as CSV and go in again as they were, in either units', async () => {
  const at = (minute: number) => `2026-09-01T15:${String(minute).padStart(2, '0')}:00.000Z`;
  const readings = [
    { method: 'camera', share: 0.35 },
    { method: 'outlet_depth', depth: { value: 1.5, unit: 'in' } },
    { method: 'poured_flow', flow: { value: 8, unit: 'gpm' }, backsUp: true },
    { method: 'passes_to_clear', passes: 3, cameBack: 'slugs' },
    { method: 'by_word', word: 'half' },
  ];
  for (const [i, reading] of readings.entries())
    await record('inspections', {
      lineId: line,
      observedAt: at(i),
      phase: 'no_cleaning',
      reading,
      distance: { value: 12, unit: 'ft' },
      note: '=1+1, "by hand"\nsecond line',
    });
  await record('inspections', {
    lineId: line,
    observedAt: at(10),
    phase: 'before_cleaning',
    plugged: { cause: 'roots' },
  });
  await record('inspections', {
    pitId: pit,
    observedAt: at(11),
    phase: 'no_cleaning',
    pitTest: { floatCycled: true, sludgeShare: 0.3 },
  });
  for (const units of ['metric', 'us'])
    expect((await list('inspections', `?units=${units}&sort=observedAt`)).text).toContain('observedAt');
  const out = await list('inspections', '?units=us&sort=observedAt');
  expect(out.headers['content-type']).toContain('text/csv');
  expect(parse(out.text)).toHaveLength(8);
  const before = await table('inspection');

  const same = await bring('inspections', out.text);
  expect(same.status, same.text).toBe(201);
  expect(await table('inspection')).toEqual(before);

  await t.pool.query('TRUNCATE inspection, idempotency_key CASCADE');
  const again = await bring('inspections', out.text);
  expect(again.status, again.text).toBe(201);
  const after = await table('inspection');
  expect(after).toHaveLength(7);
  for (const [i, row] of before.entries()) {
    const { raw, distance_m: distance, ...rest } = after[i] ?? {};
    expect(rest).toEqual({ ...row, raw: undefined, distance_m: undefined });
    if (row['distance_m'] !== null) expect(distance).toBeCloseTo(Number(row['distance_m']), 9);
    for (const [name, value] of Object.entries(row['raw'] as object))
      if (typeof value === 'number') expect(raw[name]).toBeCloseTo(value, 6);
      else expect(raw[name]).toEqual(value);
  }
});

test('cleans likewise', async () => {
  await record('cleans', {
    lineId: line,
    cleanedAt: '2026-09-02T15:00:00Z',
    task: 'jet',
    flowProven: 'yes',
    cameBack: 'tinted',
    passes: 2,
    nozzleStopped: { value: 30, unit: 'ft' },
    water: { value: 40, unit: 'gal' },
    waterWentTo: 'caught',
    note: 'by hand',
  });
  const out = await list('cleans');
  const before = await table('clean');
  expect((await bring('cleans', out.text)).status).toBe(201);
  expect(await table('clean')).toEqual(before);
  await t.pool.query('TRUNCATE clean, idempotency_key CASCADE');
  expect((await bring('cleans', out.text)).status).toBe(201);
  const [row] = await table('clean');
  expect(row).toMatchObject({ task: 'jet', passes: 2, came_back: 'tinted' });
  expect(row?.['nozzle_stopped_m']).toBeCloseTo(9.144, 6);
  expect(row?.['water_l']).toBeCloseTo(151.416, 3);
});

test('what was found is never edited; a wrong cell is named by its line and column', async () => {
  const [header = [], ...rows] = parse((await list('inspections', '?sort=observedAt')).text) as string[][];
  const with_ = (name: string, value: string) => {
    const changed = rows.map((row, i) =>
      row.map((cell, k) => (i === 0 && header[k] === name ? value : cell)),
    );
    return stringify([header, ...changed]);
  };
  const edited = await bring('inspections', with_('note', 'other'));
  expect(edited.status).toBe(422);
  expect(edited.body.errors[0]).toMatchObject({
    pointer: '#/items/0/id',
    detail: 'note is another on record',
  });
  const deposit = await bring('inspections', with_('deposit', 'crust'));
  expect(deposit.status).toBe(422);
  expect((await bring('inspections', with_('reading', '{'))).body.errors[0].pointer).toBe('#/line 2/reading');
  expect((await bring('inspections', with_('distance', 'far'))).body.errors[0].pointer).toBe(
    '#/line 2/distance',
  );
  expect((await bring('inspections', 'colour\nred\n')).status).toBe(400);
  // What only tells is passed over, as it is for every list.
  expect((await bring('inspections', with_('author', 'somebody else'))).status).toBe(201);
});
