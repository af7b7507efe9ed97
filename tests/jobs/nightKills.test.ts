import { join } from 'node:path';
import { pino } from 'pino';
import { expect, inject, test } from 'vitest';
import { migrateJobs } from '../../src/jobs/worker.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import { differences, layBooks, nightWithKill } from '../faults/nightKills.js';
import { testDatabase } from '../setup/testDatabase.js';

// A few of the points of `npm run faults -- --night`, without waiting for leases to lapse.

const script = join(import.meta.dirname, '../faults/nightWorker.mjs');
const POINTS = ['before:date', 'begin:route', 'end:order'];

test('a night whose worker is killed is ended by another instance as if nothing had been', async () => {
  const { url: first, pool: admin } = await testDatabase();
  const ending = async (point: string) => {
    const name = `night_${process.pid}_${point.replace(':', '_')}`;
    await admin.query(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
    await admin.query(`CREATE DATABASE ${name} TEMPLATE ${books}`);
    const url = Object.assign(new URL(first), { pathname: `/${name}` }).href;
    const pool = openPool(url, { onLost: () => undefined });
    try {
      return await nightWithKill({ pool, url, script }, point, 1, true);
    } finally {
      await pool.end();
      await admin.query(`DROP DATABASE ${name} WITH (FORCE)`);
    }
  };
  const books = `night_${process.pid}_books`;
  await admin.query(`CREATE DATABASE ${books} TEMPLATE ${inject('databaseTemplate')} STRATEGY wal_log`);
  const pool = openPool(Object.assign(new URL(first), { pathname: `/${books}` }).href);
  await migrate(pool, join(import.meta.dirname, '../../prisma/migrations'));
  await migrateJobs(pool, pino({ level: 'silent' }));
  await layBooks(pool, 4);
  await pool.end();
  try {
    const whole = await ending('');
    expect(whole.state).toBe('done');
    expect(whole.tables['trend']?.length).toBe(4);
    for (const point of POINTS) {
      const killed = await ending(point);
      expect([point, killed.runs, killed.state]).toEqual([point, 1, 'done']);
      expect([point, differences(whole.tables, killed.tables)]).toEqual([point, []]);
      expect([point, differences(killed.tables, whole.tables)]).toEqual([point, []]);
    }
  } finally {
    await admin.query(`DROP DATABASE ${books} WITH (FORCE)`);
  }
}, 600_000);
