import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test, vi } from 'vitest';
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
  // two months old, its neighbours fast and few: a wide forecast, but hardly over yet
  const [, , , median] = rows.find((row) => row.startsWith('NEW,'))?.split(',') ?? [];
  expect(String(median) > '2026-12-31').toBe(true);
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

test('by the rules for due dates: hardening, first interval, over its limit, and what was assumed is said', async () => {
  const said = vi.spyOn(console, 'log').mockImplementation(() => undefined);
  expect(await forecastCommand(args('--policy'))).toBe(0);
  const told = said.mock.calls.flat().join('\n');
  said.mockRestore();
  const rows = readFileSync(path('due.csv'), 'utf8').trim().split('\n').slice(1);
  const of = (id: string) => rows.find((row) => row.startsWith(`${id},`)) ?? '';
  // iron 4 mg/L is ochre, wetness not told: soft for 3 × 30.44 = 91 days from the clean of 1 August
  expect(of('FAST')).toMatch(/^FAST,2026-10-31,/);
  expect(of('FAST')).toContain('Ochre hardens 91 days after a clean in a line that dries out (assumed)');
  // laid on 1 August into soil nobody tested: within 180 days, for a basement nobody told of 5 % a year
  expect(of('NEW').split(',')[1] ?? '').toMatch(/^202[67]-/);
  expect((of('NEW').split(',')[1] ?? '') <= '2027-01-28').toBe(true);
  expect(of('NEW')).toContain('yearly limit is 5 % for a house whose basement is not known');
  expect(of('OVER')).toMatch(/^OVER,2026-09-30,/);
  expect(told).toContain('no care terms');
  expect(told).toContain('hardening 1');
});
