import { join } from 'node:path';
import pg from 'pg';
import type { TestProject } from 'vitest/node';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';

declare module 'vitest' {
  interface ProvidedContext {
    databaseServer: string;
  }
}

export const TEMPLATE = 'openbore_template';

/** One server a run (DATABASE_URL, else an embedded one), one migrated template. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const given = process.env['DATABASE_URL'];
  const server = given ? undefined : await startEmbedded({ durable: false });
  const urlOf = (database: string) =>
    given ? Object.assign(new URL(given), { pathname: `/${database}` }).href : (server?.url(database) ?? '');
  const admin = new pg.Client({ connectionString: urlOf('postgres') });
  await admin.connect();
  await admin.query(`DROP DATABASE IF EXISTS ${TEMPLATE} WITH (FORCE)`);
  await admin.query(`CREATE DATABASE ${TEMPLATE}`);
  const pool = openPool(urlOf(TEMPLATE));
  await migrate(pool, join(import.meta.dirname, '../../prisma/migrations'));
  await pool.end();
  project.provide('databaseServer', urlOf('postgres'));
  return async () => {
    await admin.query(`DROP DATABASE IF EXISTS ${TEMPLATE} WITH (FORCE)`);
    await admin.end();
    await server?.stop();
  };
}
