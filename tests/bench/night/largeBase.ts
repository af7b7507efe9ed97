import type { Pool, PoolClient } from 'pg';
import { v7 as newId } from 'uuid';
import { isoDate } from '../../../src/domain/calendar/isoDate.js';
import { Random } from '../../../src/domain/routing/random.js';
import type { LineKind, Material } from '../../../src/domain/words.js';
import { type CopyValue, copyIn } from '../../../src/persistence/copy.js';
import { normal, oneOf } from '../fouling/chance.js';

export interface LargeBase {
  lines: number;
  readingsPerLine: number;
  /** Day number of the night; nothing is observed on it or later. */
  asOfDay: number;
  seed: number;
}

const LINES_PER_SITE = 4;
const AREAS = 60;
const BLOCK_SITES = 500;

const COLUMNS = {
  site: ['id', 'address', 'town', 'area', 'basement'],
  system: ['id', 'site_id', 'name', 'kind', 'assumed'],
  line: [
    'id',
    'site_id',
    'system_id',
    'name',
    'kind',
    'drains_to',
    'outlet',
    'length_m',
    'ferrous_iron_mg_l',
    'main_material',
    'main_bore_mm',
  ],
  epoch: ['id', 'line_id', 'started_on', 'begins', 'because'],
  inspection: [
    'id',
    'line_id',
    'observed_at',
    'received_at',
    'author',
    'phase',
    'method',
    'raw',
    'conversion_version',
    'occlusion',
    'standard_error',
    'bound',
    'plugged',
  ],
  clean: ['id', 'line_id', 'cleaned_at', 'received_at', 'author', 'inferred'],
} as const;

type Rows = Record<keyof typeof COLUMNS, CopyValue[][]>;

/**
 * Fills an empty, migrated database by COPY, block by block: sites of four lines, each read and cleaned about every
 * three months at a rate of its own, by camera or a look at the outlet. The change log is left out.
 */
export async function fillLargeBase(pool: Pool, base: LargeBase): Promise<void> {
  const random = new Random(base.seed);
  const client = await pool.connect();
  try {
    await client.query('SET session_replication_role = replica');
    const sites = Math.ceil(base.lines / LINES_PER_SITE);
    for (let from = 0; from < sites; from += BLOCK_SITES) {
      const rows = blockOf(base, random, from, Math.min(sites, from + BLOCK_SITES));
      for (const table of Object.keys(COLUMNS) as (keyof Rows)[])
        await copyIn(client, table, COLUMNS[table], rows[table]);
    }
    await client.query('RESET session_replication_role');
  } finally {
    client.release();
  }
  await pool.query('VACUUM ANALYZE');
}

function blockOf(base: LargeBase, random: Random, from: number, to: number): Rows {
  const rows: Rows = { site: [], system: [], line: [], epoch: [], inspection: [], clean: [] };
  for (let site = from; site < to; site++) {
    const siteId = newId();
    const area = `Area ${site % AREAS}`;
    rows.site.push([siteId, `${site} Marsh Gate`, area, area, 'finished']);
    const iron = Math.exp(0.4 + 0.8 * normal(random));
    const effect = 0.5 * normal(random);
    for (let n = 0; n < LINES_PER_SITE && site * LINES_PER_SITE + n < base.lines; n++) {
      const [systemId, lineId] = [newId(), newId()];
      const kind = oneOf<LineKind>(random, {
        sump_discharge: 0.16,
        footing_drain: 0.35,
        floor_drain: 0.23,
        yard_drain: 0.26,
      });
      const material = oneOf<Extract<Material, 'pvc' | 'clay'>>(random, { pvc: 0.6, clay: 0.4 });
      rows.system.push([systemId, siteId, `System ${n}`, 'gravity', []]);
      rows.line.push([
        lineId,
        siteId,
        systemId,
        `L${site}-${n}`,
        kind,
        'outlet',
        'daylight',
        15,
        random.unit() < 0.3 ? null : iron,
        material,
        100,
      ]);
      visits(base, random, rows, lineId, Math.exp(-7.4 + effect + 0.7 * normal(random)));
    }
  }
  return rows;
}

function visits(base: LargeBase, random: Random, rows: Rows, lineId: string, ratePerDay: number): void {
  const gaps = Array.from({ length: base.readingsPerLine }, () => 92 * Math.exp(0.3 * normal(random)));
  let day = base.asOfDay - 60 * random.unit() - 1 - gaps.reduce((sum, gap) => sum + gap, 0);
  rows.epoch.push([newId(), lineId, isoDate(Math.floor(day)), 'clean', 'installed']);
  const camera = random.unit() < 0.5;
  for (const gap of gaps) {
    day += gap;
    const noise = camera ? 0.06 : 0.1;
    const level = 0.03 + ratePerDay * gap * (1 + 0.2 * normal(random)) + noise * normal(random);
    const occlusion = Math.round(Math.min(0.95, Math.max(0, level)) * 100) / 100;
    const at = new Date(day * 86_400_000);
    rows.inspection.push(
      reading(lineId, at, 'before_cleaning', camera ? 'camera' : 'outlet_look', occlusion, noise),
    );
    rows.clean.push([newId(), lineId, at, at, 'bench', true]);
  }
}

/** One reading as a row of `inspection`. */
export function reading(
  lineId: string,
  at: Date,
  phase: string,
  method: string,
  occlusion: number,
  standardError: number,
): CopyValue[] {
  const bound = method === 'outlet_look' && occlusion > 0.3 ? 'at_least' : 'exact';
  return [
    newId(),
    lineId,
    at,
    at,
    'bench',
    phase,
    method,
    { share: occlusion },
    1,
    occlusion,
    standardError,
    bound,
    false,
  ];
}

/** One more reading on every n-th line, the day before the night. */
export async function addNews(client: PoolClient, everyNth: number, day: number): Promise<number> {
  const at = new Date((day - 0.5) * 86_400_000).toISOString();
  const { rowCount } = await client.query(
    `INSERT INTO inspection (id, line_id, observed_at, received_at, author, phase, method, raw, conversion_version, occlusion, standard_error, bound, plugged)
     SELECT gen_random_uuid(), id, $1::timestamptz, $1::timestamptz, 'bench', 'no_cleaning', 'camera', '{"share": 0.2}', 1, 0.2, 0.08, 'exact', false
       FROM (SELECT id, row_number() OVER (ORDER BY id) AS n FROM line) l WHERE n % $2 = 0`,
    [at, everyNth],
  );
  return rowCount ?? 0;
}
