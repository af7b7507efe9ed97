// Compiles the fuzz and runs it:
//
//   node tests/fuzz/run.mjs --count 100000 --seed 1       every operation as often as every other
//   node tests/fuzz/run.mjs --only '^startWorkOrder$' --count 200 --why
import { spawnSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = resolve(dirname(fileURLToPath(import.meta.url)), '../..');
const run = (...command) => spawnSync(process.execPath, command, { cwd: root, stdio: 'inherit' }).status ?? 1;

const tsc = createRequire(import.meta.url).resolve('typescript/bin/tsc');
process.exitCode =
  run(join(root, 'src/build.mjs'), '--when-stale') ||
  run(tsc, '-p', join(root, 'tsconfig.bench.json')) ||
  run(join(root, 'dist/bench/tests/fuzz/fuzz.js'), ...process.argv.slice(2));
