import { expect, test } from 'vitest';
import { type ClientBaseFiles, readClientBase } from '../../../src/files/books/readBooks.js';
import { csvFromBytes, csvFromText } from '../../../src/files/csvSource.js';

const SITES =
  'site_id,client,address,town,latitude,longitude,access\nS1,Client 1,1 Marsh Gate,Brindle,44.6,-90.3,anytime\n';
const LINES =
  'line_id,site_id,kind,material,inside_diameter_mm,length_m,installed_on,ferrous_iron_mg_l,threshold\nL1,S1,footing_drain,pvc,100,20,2024-01-01,,0.45\n';
const HEAD = 'line_id,observed_at,phase,method,occlusion,plugged\n';

async function read(files: Record<string, string>) {
  const sources = Object.fromEntries(
    Object.entries(files).map(([name, text]) => [name, csvFromText(`${name}.csv`, text)]),
  );
  return readClientBase(sources as ClientBaseFiles, '2026-09-30');
}

async function faultsOf(files: Record<string, string>) {
  const got = await read(files);
  return 'faults' in got ? got.faults : [];
}

test('a full file set becomes typed rows', async () => {
  const got = await read({
    sites: SITES,
    lines: LINES,
    readings: `${HEAD}L1,2025-08-27T05:48:08Z,before_cleaning,camera,0.25,0\n`,
  });
  if ('faults' in got) throw new Error(JSON.stringify(got.faults));
  expect(got.base.readings[0]).toMatchObject({
    lineId: 'L1',
    occlusion: 0.25,
    plugged: false,
    method: 'camera',
  });
  expect(got.base.sites[0]?.area).toBe('Brindle');
});

test('a thin book needs client and address only, and the derived id is stable', async () => {
  const text = 'client,address,last_cleaned\nClient 1,1 Marsh Gate,2026-03-01\n';
  const [a, b] = [await read({ sites: text }), await read({ sites: text })];
  if ('faults' in a || 'faults' in b) throw new Error('refused');
  expect(a.base.sites[0]).toMatchObject({ town: 'unknown', lastCleaned: '2026-03-01' });
  expect(a.base.sites[0]?.siteId).toBe(b.base.sites[0]?.siteId);
});

test.each([
  ['above 1', 'L1,2025-08-27T05:48:08Z,before_cleaning,camera,1.4,0\n', 'occlusion', 'is above 1'],
  ['below 0', 'L1,2025-08-27T05:48:08Z,before_cleaning,camera,-0.1,0\n', 'occlusion', 'is below 0'],
  [
    'in the future',
    'L1,2026-10-27T05:48:08Z,before_cleaning,camera,0.1,0\n',
    'observed_at',
    'lies after today',
  ],
  ['of another line', 'L9,2025-08-27T05:48:08Z,before_cleaning,camera,0.1,0\n', 'line_id', 'no such line'],
  [
    'of no method we know',
    'L1,2025-08-27T05:48:08Z,before_cleaning,sonar,0.1,0\n',
    'method',
    'not one of the known words',
  ],
  [
    'plugged with an occlusion',
    'L1,2025-08-27T05:48:08Z,before_cleaning,,0.9,1\n',
    'occlusion',
    'plugged line has no occlusion',
  ],
])('a reading %s is refused by line, column and remedy', async (_name, row, column, problem) => {
  const [fault] = await faultsOf({ sites: SITES, lines: LINES, readings: HEAD + row });
  expect(fault).toMatchObject({ file: 'readings.csv', line: 2, column });
  expect(fault?.problem).toContain(problem);
  expect(fault?.remedy.length).toBeGreaterThan(5);
});

test('a missing column is named with what was found', async () => {
  const [fault] = await faultsOf({
    sites: SITES,
    lines: LINES,
    readings: 'line_id,observed_at,phase,method,plugged\n',
  });
  expect(fault).toMatchObject({ column: 'occlusion', line: 1 });
  expect(fault?.problem).toContain('found line_id');
});

test('a doubled id names both lines', async () => {
  const [fault] = await faultsOf({ sites: SITES, lines: `${LINES}L1,S1,floor_drain,pvc,100,5,,,0.45\n` });
  expect(fault).toMatchObject({ line: 3, value: 'L1' });
  expect(fault?.problem).toContain('line 2 has it too');
});

test('a file that ends in the middle is refused', async () => {
  const [cut] = await faultsOf({
    sites: SITES,
    lines: LINES,
    readings: `${HEAD}L1,2025-08-27T05:48:08Z,before_cl`,
  });
  expect(cut?.problem).toContain('ends in the middle');
  const [quote] = await faultsOf({ sites: `${SITES}S2,"Client` });
  expect(quote?.problem).toContain('quote');
});

test('a circle in what drains to what is refused', async () => {
  const head = LINES.split('\n')[0];
  const text = `${head},drains_to\nL1,S1,footing_drain,pvc,100,20,,,0.45,L2\nL2,S1,footing_drain,pvc,100,20,,,0.45,L1\n`;
  const faults = await faultsOf({ sites: SITES, lines: text });
  expect(faults[0]?.problem).toContain('circle');
});

test('bytes that are no UTF-8 are refused', async () => {
  const got = await readClientBase(
    { sites: csvFromBytes('sites.csv', Uint8Array.from([0x63, 0xff, 0xfe, 0x0a])) },
    '2026-09-30',
  );
  expect('faults' in got && got.total).toBeGreaterThan(0);
});
