// Compiles the fault harness and runs it on the built service:
//
//   node tests/faults/run.mjs --kills 1000 --seconds 3600       every fault, until either is reached
//   node tests/faults/run.mjs --disk 500 --kills 50             the folder on a small file system, filled up as well
//   node tests/faults/run.mjs --control                          a door that acknowledges before commit: must turn red
//   node tests/faults/run.mjs --night                            a night of several instances, killed at every point
//   node tests/faults/run.mjs --stops                            told to stop in the middle of long work; a database that stands still
import { spawnSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = resolve(dirname(fileURLToPath(import.meta.url)), '../..');
const run = (...command) => spawnSync(process.execPath, command, { cwd: root, stdio: 'inherit' }).status ?? 1;

const MODES = { '--night': 'night.js', '--stops': 'stops.js' };
const asked = process.argv.slice(2);
const mode = Object.keys(MODES).find((name) => asked.includes(name));
const args = asked.filter((arg) => arg !== mode);

const tsc = createRequire(import.meta.url).resolve('typescript/bin/tsc');
process.exitCode =
  run(join(root, 'src/build.mjs'), '--when-stale') ||
  run(tsc, '-p', join(root, 'tsconfig.bench.json')) ||
  run(join(root, 'dist/bench/tests/faults', MODES[mode] ?? 'faults.js'), ...args);
