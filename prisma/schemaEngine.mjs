// Prisma's schema engine as WebAssembly over node-postgres: compares migrations with schema.prisma
// without the native engine, so nothing is downloaded.
import { readdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { PrismaPg } from '@prisma/adapter-pg';
import { bindMigrationAwareSqlAdapterFactory, ColumnTypeEnum } from '@prisma/driver-adapter-utils';
import pg from 'pg';

const ONE_BYTE_CHAR = 18;
const CHARACTER = 1042;

globalThis.PRISMA_WASM_PANIC_REGISTRY ??= {
  set_message: (message) => console.error('schema engine panic:', message),
};

/**
 * Compares what the migrations make with what the schema says.
 *
 * @param urlOf      Connection string of a database by its name, on a server where databases may be created.
 * @param migrations Absolute path of the migrations folder.
 * @param schema     Text of schema.prisma.
 * @returns `inStep`, and the SQL that would bring the migrations up to the schema.
 */
export async function compare(urlOf, migrations, schema) {
  const pools = [];
  const engine = await openEngine(adapterFactory(urlOf, pools), schema);
  const { exitCode, stdout } = await engine.diff({
    from: { tag: 'migrations', ...migrationList(migrations) },
    to: { tag: 'schemaDatamodel', files: [{ path: 'schema.prisma', content: schema }] },
    script: true,
    exitCode: true,
    shadowDatabaseUrl: null,
    filters: { externalTables: [], externalEnums: [] },
  });
  await Promise.all(pools.filter((pool) => !pool.ending).map((pool) => pool.end()));
  return { inStep: exitCode === 0, sql: stdout ?? '' };
}

async function openEngine(factory, schema) {
  const engine = await import('@prisma/schema-engine-wasm/schema_engine_bg');
  const entry = createRequire(import.meta.url).resolve('@prisma/schema-engine-wasm');
  const bytes = readFileSync(join(entry, '../schema_engine_bg.wasm'));
  const instance = new WebAssembly.Instance(new WebAssembly.Module(bytes), {
    './schema_engine_bg.js': engine,
  });
  engine.__wbg_set_wasm(instance.exports);
  instance.exports.__wbindgen_start();
  return engine.SchemaEngine.new(
    { datamodels: [['schema.prisma', schema]] },
    () => {},
    bindMigrationAwareSqlAdapterFactory(factory),
  );
}

function adapterFactory(urlOf, pools) {
  const { provider, adapterName } = new PrismaPg({ connectionString: urlOf('postgres') });
  const open = async (database) => {
    const pool = new pg.Pool({ connectionString: urlOf(database) });
    pools.push(pool);
    // Dropping a shadow database ends idle connections to it; a query under way fails by itself.
    pool.on('error', () => undefined);
    const adapter = readOneByteChars(await new PrismaPg(pool).connect());
    // The adapter's own splits at every semicolon, also inside a function's body.
    adapter.executeScript = async (script) => void (await pool.query(script));
    return { pool, adapter };
  };
  return {
    provider,
    adapterName,
    connect: async () => {
      const { pool, adapter } = await open('postgres');
      adapter.dispose = () => pool.end();
      return adapter;
    },
    // The stock adapter drops the shadow database while its own pool to it is still open.
    connectToShadowDb: async () => {
      const name = `shadow_${crypto.randomUUID().replaceAll('-', '')}`;
      const { pool: main } = await open('postgres');
      await main.query(`CREATE DATABASE ${name}`);
      const { pool, adapter } = await open(name);
      adapter.dispose = async () => {
        await pool.end();
        await main.query(`DROP DATABASE ${name} WITH (FORCE)`);
        await main.end();
      };
      return adapter;
    },
  };
}

/** The adapter has no type for the catalogs' one-byte "char"; the engine wants it as a character. */
function readOneByteChars(adapter) {
  const client = adapter.client;
  const charColumns = new Set();
  const query = async (...args) => {
    const answer = await client.query(...args);
    charColumns.clear();
    for (const field of [answer].flat().flatMap((result) => result.fields ?? [])) {
      if (field.dataTypeID !== ONE_BYTE_CHAR) continue;
      field.dataTypeID = CHARACTER;
      charColumns.add(field.name);
    }
    return answer;
  };
  adapter.client = new Proxy(client, {
    get(target, key) {
      if (key === 'query') return query;
      const value = target[key];
      return typeof value === 'function' ? value.bind(target) : value;
    },
  });
  const queryRaw = adapter.queryRaw.bind(adapter);
  adapter.queryRaw = async (statement) => {
    const result = await queryRaw(statement);
    result.columnTypes = result.columnTypes.map((type, i) =>
      charColumns.has(result.columnNames[i]) ? ColumnTypeEnum.Character : type,
    );
    return result;
  };
  return adapter;
}

function migrationList(folder) {
  const names = readdirSync(folder, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort();
  return {
    baseDir: folder,
    shadowDbInitScript: '',
    lockfile: {
      path: 'migration_lock.toml',
      content: readFileSync(join(folder, 'migration_lock.toml'), 'utf8'),
    },
    migrationDirectories: names.map((name) => ({
      path: name,
      migrationFile: {
        path: 'migration.sql',
        content: { tag: 'ok', value: readFileSync(join(folder, name, 'migration.sql'), 'utf8') },
      },
    })),
  };
}
