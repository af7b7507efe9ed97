// Generates the Prisma client without its native engine: the engine is looked for but never run,
// so any existing executable may stand in its place.
import { spawnSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { dirname, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const require = createRequire(import.meta.url);
const { status, stderr } = spawnSync(
  process.execPath,
  [require.resolve('prisma/build/index.js'), 'generate', '--no-hints'],
  {
    cwd: resolve(dirname(fileURLToPath(import.meta.url)), '..'),
    stdio: ['ignore', 'ignore', 'pipe'],
    encoding: 'utf8',
    env: { ...process.env, PRISMA_SCHEMA_ENGINE_BINARY: process.execPath, CHECKPOINT_DISABLE: '1' },
  },
);
if (status !== 0) console.error(stderr);
process.exit(status ?? 1);
