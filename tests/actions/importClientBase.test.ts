import { beforeAll, expect, test } from 'vitest';
import type { ClientBase } from '../../src/actions/clientBase.js';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { csvFromText } from '../../src/files/csvSource.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const FILES = {
  sites:
    'site_id,client,address,town,latitude,longitude,access\nS1,Client 1,1 Marsh Gate,Brindle,44.6,-90.3,anytime\nS2,Client 1,2 Marsh Gate,Brindle,44.61,-90.3,someone_home\n',
  lines:
    'line_id,site_id,kind,material,inside_diameter_mm,length_m,installed_on,ferrous_iron_mg_l,threshold\n' +
    'L1,S1,footing_drain,pvc,100,20,2024-01-01,2.5,0.45\nL2,S1,sump_discharge,pvc,40,12,2001-05-01,,0.4\n',
  readings:
    'line_id,observed_at,phase,method,occlusion,plugged\n' +
    'L1,2025-08-27T05:48:08Z,before_cleaning,camera,0.25,0\nL1,2025-08-27T07:00:08Z,after_cleaning,camera,0.02,0\n' +
    'L2,2025-08-27T05:48:08Z,before_cleaning,,,1\nL2,2026-02-27T05:48:08Z,before_cleaning,,,0\n',
  crews:
    'crew_id,name,depot,depot_latitude,depot_longitude,kit,shift_start,shift_end,weekdays,break_after,break_minutes\nC1,Heron,North yard,44.8,-90.2,hose;jetter,07:30,16:00,mon;tue,11:30,30\n',
};

let t: TestHouse;
let base: ClientBase;
const ask = () => ({ base, source: 'book', asOf: '2026-09-30' });

beforeAll(async () => {
  t = await testHouse();
  const sources = Object.fromEntries(
    Object.entries(FILES).map(([name, text]) => [name, csvFromText(`${name}.csv`, text)]),
  );
  const got = await readClientBase(sources, '2026-09-30');
  if ('faults' in got) throw new Error(JSON.stringify(got.faults));
  base = got.base;
});

const count = async (table: string) => t.house.stores.rows.count(table, []);

test('a dry run counts and leaves nothing', async () => {
  const counts = await importClientBase(t.house, { name: 'test' }, ask(), { dryRun: true });
  expect(counts).toMatchObject({ sites: 2, crews: 1 });
  expect(await count('site')).toBe(0);
});

test('a client base comes in whole; systems, pits and the lines of a thin book are assumed and marked', async () => {
  const counts = await importClientBase(t.house, { name: 'test' }, ask());
  // S2 has no line in the books: the two a house usually has are assumed
  expect(counts).toMatchObject({
    clients: 1,
    sites: 2,
    systems: 2,
    lines: 4,
    inspections: 3,
    cleans: 3,
    crews: 1,
  });
  const shifts = await t.pool.query('SELECT weekday, break_after, break_minutes FROM shift ORDER BY weekday');
  expect(shifts.rows).toEqual([
    { weekday: 'mon', break_after: '11:30', break_minutes: 30 },
    { weekday: 'tue', break_after: '11:30', break_minutes: 30 },
  ]);
  const { rows } = await t.pool.query(
    `SELECT l.external_ref, l.drains_to, p.discharge_line_id IS NOT NULL AS has_discharge, e.begins, l.assumed
       FROM line l JOIN pit p ON p.system_id = l.system_id JOIN epoch e ON e.line_id = l.id ORDER BY 1`,
  );
  expect(rows.map((row) => [row.external_ref, row.drains_to, row.begins])).toEqual([
    ['L1', 'pit', 'clean'], // laid 2024, first seen within 1100 days
    ['L2', 'outlet', 'unknown'],
    ['S2:footing_drain', 'pit', 'unknown'],
    ['S2:sump_discharge', 'outlet', 'unknown'],
  ]);
  expect(rows.every((row) => row.has_discharge)).toBe(true);
  expect(rows[2].assumed).toContain('exists');
});

test('the same file set again adds nothing', async () => {
  const before = await Promise.all(['site', 'line', 'inspection', 'clean', 'crew'].map(count));
  const counts = await importClientBase(t.house, { name: 'test' }, ask());
  expect(counts).toMatchObject({ sites: 0, lines: 0, inspections: 0, cleans: 0, crews: 0 });
  expect(await Promise.all(['site', 'line', 'inspection', 'clean', 'crew'].map(count))).toEqual(before);
});
