import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { forecastCommand } from '../../src/commands/forecast.js';

const folder = mkdtempSync(join(tmpdir(), 'forecast-'));
afterAll(() => rmSync(folder, { recursive: true }));

const path = (name: string) => join(folder, name);
writeFileSync(
  path('lines.csv'),
  'line_id,site_id,kind,material,inside_diameter_mm,length_m,installed_on,ferrous_iron_mg_l,threshold\n' +
    'FAST,S1,footing_drain,pvc,100,20,2025-06-01,4,0.45\nNEW,S2,footing_drain,pvc,100,20,2026-08-01,,0.45\nOVER,S3,floor_drain,clay,100,20,2025-01-01,4,0.45\n',
);
writeFileSync(
  path('readings.csv'),
  'line_id,observed_at,phase,method,occlusion,plugged\nFAST,2026-03-01T10:00:00Z,before_cleaning,camera,0.3,0\nFAST,2026-08-01T10:00:00Z,before_cleaning,camera,0.3,0\n' +
    'OVER,2026-09-28T10:00:00Z,no_cleaning,camera,0.8,0\n',
);
const args = (...more: string[]) => [
  '--lines',
  path('lines.csv'),
  '--readings',
  path('readings.csv'),
  '--as-of',
  '2026-09-30',
  '--out',
  path('due.csv'),
  ...more,
];

test('a spreadsheet becomes dates: over already is due at once, a line without a reading has a date too', async () => {
  expect(await forecastCommand(args())).toBe(0);
  const rows = readFileSync(path('due.csv'), 'utf8').trim().split('\n');
  expect(rows[0]).toBe(
    'line_id,due_on,q10_on,q50_on,q90_on,occlusion_now,rate_per_month,readings_used,reasons',
  );
  const due = Object.fromEntries(rows.slice(1).map((row) => row.split(',').slice(0, 2)));
  expect(due['OVER']).toBe('2026-09-30');
  expect(due['NEW'] > '2026-09-30').toBe(true);
});

test('called wrongly it says how; a broken file is refused and nothing is written', async () => {
  expect(await forecastCommand(['--as-of', 'tomorrow'])).toBe(2);
  expect(await forecastCommand(args('--risk', '7'))).toBe(2);
  writeFileSync(path('bad.csv'), 'line_id,observed_at\n');
  expect(
    await forecastCommand([
      '--lines',
      path('lines.csv'),
      '--readings',
      path('bad.csv'),
      '--as-of',
      '2026-09-30',
      '--out',
      path('none.csv'),
    ]),
  ).toBe(1);
  expect(() => readFileSync(path('none.csv'))).toThrow();
});
