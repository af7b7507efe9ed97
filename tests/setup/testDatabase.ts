import { randomBytes } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { afterAll, inject } from 'vitest';
import { openPool } from '../../src/persistence/pool.js';

export interface TestDatabase {
  pool: pg.Pool;
  url: string;
}

/** A test file's own database, cloned from the migrated template and dropped after the file. */
export async function testDatabase(): Promise<TestDatabase> {
  const serverUrl = inject('databaseServer');
  const name = `t_${randomBytes(6).toString('hex')}`;
  const admin = new pg.Client({ connectionString: serverUrl });
  await admin.connect();
  for (let attempt = 0; ; attempt++) {
    try {
      await admin.query(`CREATE DATABASE ${name} TEMPLATE openbore_template STRATEGY wal_log`);
      break;
    } catch (error) {
      // 55006: another file is cloning the template right now.
      if (!(error instanceof pg.DatabaseError) || error.code !== '55006' || attempt > 100) throw error;
      await sleep(50);
    }
  }
  const url = Object.assign(new URL(serverUrl), { pathname: `/${name}` }).href;
  const pool = openPool(url);
  afterAll(async () => {
    await pool.end();
    await admin.query(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
    await admin.end();
  });
  return { pool, url };
}
