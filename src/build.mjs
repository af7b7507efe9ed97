// Builds dist: the Prisma client, then the TypeScript of src. `--when-stale` does nothing while dist is newer
// than everything it was made from. Types are checked by `npm run types`, not here. The old dist stays in place until the new one is whole.
import { spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = resolve(dirname(fileURLToPath(import.meta.url)), '..');
const dist = join(root, 'dist');
const stamp = join(dist, '.built');

if (!process.argv.includes('--when-stale') || isStale()) {
  try {
    build();
  } catch (error) {
    console.error(error.message);
    process.exitCode = 1;
  }
}

function isStale() {
  if (!existsSync(stamp)) return true;
  const builtMs = statSync(stamp).mtimeMs;
  const files = ['prisma/schema.prisma', 'tsconfig.json', 'tsconfig.build.json', 'package-lock.json'];
  return (
    files.some((file) => statSync(join(root, file)).mtimeMs > builtMs) ||
    newestMs(join(root, 'src')) > builtMs
  );
}

/** Folders count too: their time changes when a file goes. The generated client follows from the schema. */
function newestMs(folder) {
  let newest = statSync(folder).mtimeMs;
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    if (entry.name === 'generated') continue;
    const path = join(folder, entry.name);
    newest = Math.max(newest, entry.isDirectory() ? newestMs(path) : statSync(path).mtimeMs);
  }
  return newest;
}

function build() {
  mkdirSync(join(root, 'src/generated'), { recursive: true });
  const startedAt = new Date();
  console.error('building');
  run(join(root, 'prisma/generate.mjs'));
  const fresh = join(root, `dist.${process.pid}`);
  const tsc = createRequire(import.meta.url).resolve('typescript/bin/tsc');
  try {
    run(tsc, '-p', join(root, 'tsconfig.build.json'), '--outDir', fresh);
    writeFileSync(join(fresh, '.built'), '');
    utimesSync(join(fresh, '.built'), startedAt, startedAt); // what changes meanwhile is not in it
    rmSync(dist, { recursive: true, force: true });
    renameSync(fresh, dist);
  } finally {
    rmSync(fresh, { recursive: true, force: true });
  }
  console.error(`built in ${((Date.now() - startedAt.getTime()) / 1000).toFixed(1)} s`);
}

function run(script, ...args) {
  const { status } = spawnSync(process.execPath, [script, ...args], { cwd: root, stdio: ['ignore', 2, 2] });
  if (status !== 0) throw new Error('the build failed; what stands above says why');
}
