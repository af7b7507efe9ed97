// Fails (exit code 1) when prisma/migrations and prisma/schema.prisma do not describe the same tables, and
// prints the SQL between them. Checks, exclusions, partial indexes, triggers and partitions are no drift.
import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { compare } from './schemaEngine.mjs';
import { withServer } from './temporaryServer.mjs';

const here = dirname(fileURLToPath(import.meta.url));
const schema = readFileSync(join(here, 'schema.prisma'), 'utf8');
const { inStep, sql } = await withServer((urlOf) => compare(urlOf, join(here, 'migrations'), schema));
if (!inStep) {
  console.error('migrations and schema.prisma differ; between them stands:\n');
  console.error(sql);
  console.error('`node prisma/nextMigration.mjs NAME` writes it as the next migration');
  process.exitCode = 1;
} else {
  console.log('migrations and schema.prisma agree');
}
