import { randomUUID } from 'node:crypto';
import { chmodSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type pg from 'pg';
import { pino } from 'pino';
import { migrateJobs } from '../../../src/jobs/worker.js';
import { startEmbedded } from '../../../src/persistence/embeddedPostgres.js';
import { openPool } from '../../../src/persistence/pool.js';
import { datedBase } from '../night/datedBase.js';
import { DAY, type Ground } from './work.js';
import { layYears } from './years.js';

const STOPS = 10;
const RUN = 'run';

/** A large base, dated, with one crew's day of ten stops, on a database of its own. */
export interface BenchBase {
  url: string;
  pool: pg.Pool;
  ground: Ground;
  /** Of a dispatcher. */
  key: string;
  end(): Promise<void>;
}

/** @param kept Folder in which the base stays as it was made; each run then works on a copy of it. */
export async function benchBase(lines: number, kept?: string): Promise<BenchBase> {
  const folder = kept ?? mkdtempSync(join(tmpdir(), 'openbore-bench-'));
  chmodSync(folder, 0o755); // as root the database runs as another user
  const server = await startEmbedded({ folder: join(folder, `${lines}`) });
  const note = join(folder, `${lines}.json`);
  if (!existsSync(note)) writeFileSync(note, JSON.stringify(await made(server.url(), lines)));
  const admin = openPool(server.url('postgres'), { statementTimeoutMs: 0 });
  await admin.query(`DROP DATABASE IF EXISTS ${RUN} WITH (FORCE)`);
  await admin.query(`CREATE DATABASE ${RUN} TEMPLATE openbore STRATEGY file_copy`);
  const pool = openPool(server.url(RUN), { statementTimeoutMs: 600_000 });
  return {
    url: server.url(RUN),
    pool,
    ...(JSON.parse(readFileSync(note, 'utf8')) as { ground: Ground; key: string }),
    async end() {
      await pool.end();
      await admin.query(`DROP DATABASE ${RUN} WITH (FORCE)`);
      await admin.end();
      await server.stop();
      if (!kept) rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function made(url: string, lines: number): Promise<{ ground: Ground; key: string }> {
  const pool = openPool(url, { statementTimeoutMs: 0 });
  try {
    const { house, key } = await datedBase(pool, { lines, readings: 10, day: DAY, role: 'dispatcher' });
    await migrateJobs(pool, pino({ level: 'silent' }));
    const ground = await house.transact({ name: 'bench' }, (stores) => layRoute(pool, stores.rows));
    await layYears(pool);
    return { ground, key };
  } finally {
    await pool.end();
  }
}

/** One crew's day of ten stops. */
async function layRoute(
  pool: pg.Pool,
  rows: {
    insert(table: string, row: object): Promise<unknown>;
    all(table: string, where: []): Promise<Record<string, unknown>[]>;
  },
): Promise<Ground> {
  const lines = (await pool.query('SELECT id, site_id FROM line ORDER BY id LIMIT $1', [STOPS])).rows as {
    id: string;
    site_id: string;
  }[];
  const [depot, crew, plan, route] = [randomUUID(), randomUUID(), randomUUID(), randomUUID()];
  await rows.insert('depot', { id: depot, name: 'Yard', latitude: 44, longitude: -90 });
  await rows.insert('crew', { id: crew, name: 'Heron', depot_id: depot, people: 2 });
  await rows.insert('plan', {
    id: plan,
    state: 'accepted',
    from_day: DAY,
    to_day: DAY,
    because: 'bench',
    asked_by: 'bench',
    seed: 1,
    search_seconds: 1,
  });
  await rows.insert('route', { id: route, plan_id: plan, crew_id: crew, day: DAY, state: 'live' });
  for (const [i, line] of lines.entries()) {
    const order = randomUUID();
    await rows.insert('work_order', {
      id: order,
      site_id: line.site_id,
      cause: 'due',
      minutes: 40,
      state: 'placed',
    });
    await rows.insert('work_order_task', {
      id: randomUUID(),
      work_order_id: order,
      position: 1,
      kind: 'jet',
      line_id: line.id,
      minutes: 40,
    });
    const at = `${DAY}T${String(13 + i).padStart(2, '0')}:00:00Z`;
    await rows.insert('stop', {
      id: randomUUID(),
      route_id: route,
      position: i + 1,
      travel_s: 0,
      travel_m: 0,
      kind: 'visit',
      work_order_id: order,
      arrives_at: at,
      starts_at: at,
      ends_at: at.replace(':00:00', ':40:00'),
      live: true,
    });
  }
  return { lineId: lines[0]?.id ?? '', siteId: lines[0]?.site_id ?? '', crewId: crew };
}
