// Compiles the benches with what they measure into dist/bench and runs them, one process each:
//
//   node tests/bench/run.mjs                          every bench of ALL, one after another
//   node tests/bench/run.mjs routing --seconds 2      tests/bench/routing.ts with its arguments
//
// Plain node on compiled code, so that no loader stands in the measurement. Types are checked by `npm run types`.
import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const ALL = ['sizes', 'night', 'fouling', 'replay', 'routing', 'reports', 'clone'];

const root = resolve(dirname(fileURLToPath(import.meta.url)), '../..');
const [named, ...args] = process.argv.slice(2);
const benches = named === undefined ? ALL : [named];
if (!benches.every(isThere)) {
  console.error(
    `no bench ${benches.find((bench) => !isThere(bench))}: benches are files tests/bench/NAME.ts`,
  );
  process.exit(2);
}

// What users run is measured as they run it, from dist; building it clears dist/bench, so it comes first.
run(join(root, 'src/build.mjs'), '--when-stale');
const tsc = createRequire(import.meta.url).resolve('typescript/bin/tsc');
run(tsc, '-p', join(root, 'tsconfig.bench.json'), '--noCheck');
for (const bench of benches) {
  if (benches.length > 1) console.log(`\n== ${bench}`);
  run('--expose-gc', join(root, 'dist/bench/tests/bench', `${bench}.js`), ...args);
}

function isThere(bench) {
  return existsSync(join(root, 'tests/bench', `${bench}.ts`));
}

function run(...command) {
  const { status } = spawnSync(process.execPath, command, { cwd: root, stdio: 'inherit' });
  if (status !== 0) process.exit(status ?? 1);
}
