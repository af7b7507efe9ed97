import { join } from 'node:path';
import pg from 'pg';
import { pino } from 'pino';
import type { TestProject } from 'vitest/node';
import { migrateJobs } from '../../src/jobs/worker.js';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';

declare module 'vitest' {
  interface ProvidedContext {
    /** Connection string of the server's own database, from which others are made. */
    databaseServer: string;
    /** Name of the migrated database that each test file clones. */
    databaseTemplate: string;
  }
}

/**
 * One server a run (DATABASE_URL, else an embedded one that goes with the run) and one migrated template,
 * named after the run so that two runs on one server do not meet.
 */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const given = process.env['DATABASE_URL'];
  const server = given ? undefined : await startEmbedded({ durable: false });
  const urlOf = (database: string): string =>
    server ? server.url(database) : Object.assign(new URL(given ?? ''), { pathname: `/${database}` }).href;
  const template = `openbore_template_${process.pid}`;

  const admin = new pg.Client({ connectionString: urlOf('postgres') });
  await admin.connect();
  await admin.query(`DROP DATABASE IF EXISTS ${template} WITH (FORCE)`);
  await admin.query(`CREATE DATABASE ${template}`);
  const pool = openPool(urlOf(template));
  await migrate(pool, join(import.meta.dirname, '../../prisma/migrations'));
  await migrateJobs(pool, pino({ level: 'silent' }));
  await pool.end();

  project.provide('databaseServer', urlOf('postgres'));
  project.provide('databaseTemplate', template);
  return async () => {
    await admin.query(`DROP DATABASE IF EXISTS ${template} WITH (FORCE)`);
    await admin.end();
    await server?.stop();
  };
}
