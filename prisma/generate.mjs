// Generates the Prisma client without its native engine: the engine is looked for but never run,
// so any existing executable may stand in its place.
import { spawnSync } from 'node:child_process';
import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);
const { status } = spawnSync(
  process.execPath,
  [require.resolve('prisma/build/index.js'), 'generate', '--no-hints'],
  {
    stdio: ['ignore', 'ignore', 'inherit'],
    env: { ...process.env, PRISMA_SCHEMA_ENGINE_BINARY: process.execPath, CHECKPOINT_DISABLE: '1' },
  },
);
process.exit(status ?? 1);
