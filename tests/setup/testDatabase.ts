import { randomBytes } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { afterAll, inject, onTestFinished } from 'vitest';
import { openPool } from '../../src/persistence/pool.js';

export interface TestDatabase {
  pool: pg.Pool;
  url: string;
}

/** A test file's own database, cloned from the migrated template and dropped after the file. */
export async function testDatabase(): Promise<TestDatabase> {
  const { url, drop } = await createDatabase(inject('databaseTemplate'));
  const pool = openPool(url);
  afterAll(async () => {
    await pool.end();
    await drop();
  });
  return { pool, url };
}

/** Address of a database without a table, dropped after the test. */
export async function emptyDatabase(): Promise<string> {
  const { url, drop } = await createDatabase('template0');
  onTestFinished(drop);
  return url;
}

async function createDatabase(template: string): Promise<{ url: string; drop: () => Promise<void> }> {
  const serverUrl = inject('databaseServer');
  const name = `t_${randomBytes(6).toString('hex')}`;
  const admin = new pg.Client({ connectionString: serverUrl });
  await admin.connect();
  for (let attempt = 0; ; attempt++) {
    try {
      await admin.query(`CREATE DATABASE ${name} TEMPLATE ${template} STRATEGY wal_log`);
      break;
    } catch (error) {
      // 55006: another file is cloning the template right now.
      if (!(error instanceof pg.DatabaseError) || error.code !== '55006' || attempt > 100) throw error;
      await sleep(50);
    }
  }
  await admin.end();
  return {
    url: Object.assign(new URL(serverUrl), { pathname: `/${name}` }).href,
    drop: async () => {
      const last = new pg.Client({ connectionString: serverUrl });
      await last.connect();
      await last.query(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
      await last.end();
    },
  };
}
