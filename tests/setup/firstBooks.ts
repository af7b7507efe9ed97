import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Pool } from 'pg';
import { migrate } from '../../src/persistence/migrate.js';

export const MIGRATIONS = join(import.meta.dirname, '../../prisma/migrations');
/** All releases of the database, the first one first. */
export const RELEASES = readdirSync(MIGRATIONS)
  .filter((name) => /^\d/.test(name))
  .sort();

const id = (n: number): string => `01999999-0000-7000-8000-${String(n).padStart(12, '0')}`;
export const [CLIENT, SITE, SYSTEM, LINE, PIT, EPOCH, ORDER, TASK] = [1, 2, 3, 4, 5, 6, 7, 8].map(id) as [
  string,
  string,
  string,
  string,
  string,
  string,
  string,
  string,
];

/** A business as the first release kept it. */
export const FIRST_BOOKS: readonly [string, Record<string, unknown>][] = [
  ['client', { id: CLIENT, name: 'A. Sedge', phone: '555 0100' }],
  ['site', { id: SITE, address: '7 Marsh Gate', town: 'Brindle', area: 'Brindle' }],
  ['site_client', { id: id(20), site_id: SITE, client_id: CLIENT, from_day: '2020-01-01' }],
  ['contact', { id: id(21), site_id: SITE, name: 'A. Reed', role: 'occupant', phone: '555 0101' }],
  ['system', { id: SYSTEM, site_id: SITE, name: 'Pit', kind: 'pit' }],
  [
    'line',
    { id: LINE, site_id: SITE, system_id: SYSTEM, name: 'Discharge', kind: 'sump_discharge', length_m: 20 },
  ],
  ['line_section', { id: id(22), line_id: LINE, material: 'pvc', bore_mm: 75 }],
  ['epoch', { id: EPOCH, line_id: LINE, started_on: '2020-01-01', begins: 'clean', because: 'installed' }],
  ['pit', { id: PIT, site_id: SITE, system_id: SYSTEM, discharge_line_id: LINE }],
  ['pump', { id: id(23), pit_id: PIT, curve: '[{"flowLps":1,"headM":4}]' }],
  ...[1, 2, 3].map((n): [string, Record<string, unknown>] => [
    'inspection',
    {
      id: id(30 + n),
      line_id: LINE,
      observed_at: `2026-0${2 * n}-10T15:00:00Z`,
      received_at: `2026-0${2 * n}-10T15:05:00Z`,
      author: 'Tern',
      phase: 'no_cleaning',
      method: 'camera',
      raw: JSON.stringify({ method: 'camera', share: n / 10 }),
      conversion_version: 1,
      occlusion: n / 10,
      standard_error: 0.08,
    },
  ]),
  [
    'clean',
    {
      id: id(40),
      line_id: LINE,
      cleaned_at: '2026-01-05T15:00:00Z',
      received_at: '2026-01-05T15:05:00Z',
      author: 'Tern',
    },
  ],
  ['depot', { id: id(50), name: 'Yard', latitude: 44, longitude: -90 }],
  ['crew', { id: id(51), name: 'Heron', depot_id: id(50), people: 2 }],
  ['member', { id: id(52), name: 'Tern' }],
  ['crew_membership', { id: id(53), crew_id: id(51), member_id: id(52), from_day: '2026-01-01' }],
  ['work_order', { id: ORDER, site_id: SITE, cause: 'due', minutes: 60 }],
  [
    'work_order_task',
    { id: TASK, work_order_id: ORDER, position: 1, kind: 'jet', line_id: LINE, minutes: 60 },
  ],
];

/** An empty database becomes the first release's, with its books. */
export async function layFirstBooks(pool: Pool): Promise<void> {
  await migrate(pool, MIGRATIONS, { upTo: RELEASES[0] ?? '' });
  for (const [table, row] of FIRST_BOOKS) {
    const names = Object.keys(row);
    await pool.query(
      `INSERT INTO ${table} (${names.join(', ')}) VALUES (${names.map((_, i) => `$${i + 1}`).join(', ')})`,
      Object.values(row),
    );
  }
}

/** Rows of these books that are not there. */
export async function missingOf(pool: Pool): Promise<string[]> {
  const missing: string[] = [];
  for (const [table, row] of FIRST_BOOKS) {
    const { rows } = await pool.query(`SELECT count(*)::int AS n FROM ${table} WHERE id = $1`, [row['id']]);
    if (rows[0].n !== 1) missing.push(`${table} ${String(row['id'])}`);
  }
  return missing;
}
