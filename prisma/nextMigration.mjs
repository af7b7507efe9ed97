// Writes the next migration from the difference between prisma/migrations and prisma/schema.prisma.
//
//   node prisma/nextMigration.mjs                  prints the SQL
//   node prisma/nextMigration.mjs add_crew_colour  writes prisma/migrations/<UTC instant>_add_crew_colour/migration.sql
//
// Add by hand what Prisma cannot say (checks, exclusions, partial indexes, triggers, partitions), then run
// `npm run drift`. Works offline on a temporary embedded PostgreSQL, or on the server of DATABASE_URL.
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { compare } from './schemaEngine.mjs';
import { withServer } from './temporaryServer.mjs';

const here = dirname(fileURLToPath(import.meta.url));
const migrations = join(here, 'migrations');
const [name] = process.argv.slice(2);
if (name !== undefined && !/^[a-z][a-z0-9_]*$/.test(name)) {
  console.error(`a migration's name is snake_case, like add_crew_colour: got ${JSON.stringify(name)}`);
  process.exit(2);
}

const lock = join(migrations, 'migration_lock.toml');
if (!existsSync(lock)) {
  mkdirSync(migrations, { recursive: true });
  writeFileSync(lock, 'provider = "postgresql"\n');
}
const schema = readFileSync(join(here, 'schema.prisma'), 'utf8');
const { inStep, sql } = await withServer((urlOf) => compare(urlOf, migrations, schema));
if (inStep) {
  console.error('migrations and schema.prisma agree: nothing to write');
} else if (name === undefined) {
  process.stdout.write(sql);
  process.exitCode = 2; // the drift check rests on this
} else {
  // Behind the last one, whatever the clock says: names only grow.
  const last = readdirSync(migrations)
    .filter((each) => /^\d{14}_/.test(each))
    .sort()
    .at(-1);
  const now = new Date().toISOString().replaceAll(/\D/g, '').slice(0, 14);
  const stamp = last === undefined || now > last.slice(0, 14) ? now : String(Number(last.slice(0, 14)) + 1);
  const folder = join(migrations, `${stamp}_${name}`);
  mkdirSync(folder);
  writeFileSync(join(folder, 'migration.sql'), sql);
  console.error(`written: ${join(folder, 'migration.sql')}`);
}
