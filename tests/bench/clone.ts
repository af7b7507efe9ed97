import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { noiseText } from './machine/noise.js';
import { type Cost, costOf } from './machine/processTree.js';

// The README's two commands in a clean clone: to printed routes (at most 3 minutes) and through the tests (at most 5).
// What is committed is cloned, so commit first. Installing comes from npm's own cache or registry, as for a user.

const folder = mkdtempSync(join(tmpdir(), 'openbore-clone-'));
try {
  console.log(noiseText());
  await costOf('git', ['clone', '--quiet', process.cwd(), join(folder, 'openbore')]);
  const routes = [await npm('ci'), await npm('run', 'demo', '--', '--once')];
  const shown = routes[1]?.output.match(/^routes of .*$/m)?.[0] ?? 'no routes';
  say(`clean clone to printed routes (${shown})`, routes, 180);
  const tests = [await npm('test')];
  say(`tests (${tests[1]?.output.trim().split('\n').at(-1)})`, tests, 300);
  console.log(noiseText());
} finally {
  rmSync(folder, { recursive: true, force: true });
}

function npm(...args: string[]): Promise<Cost> {
  const { DATABASE_URL: _, OPENBORE_DATA: __, ...env } = process.env;
  return costOf('npm', args, { cwd: join(folder, 'openbore'), env });
}

function say(what: string, costs: readonly Cost[], most: number): void {
  const parts = costs.map(({ seconds }) => seconds.toFixed(1)).join(' + ');
  const sum = costs.reduce((total, { seconds }) => total + seconds, 0);
  const peak = Math.max(...costs.map(({ treeMib }) => treeMib ?? Number.NaN));
  console.log(
    `${what}: ${parts} = ${sum.toFixed(1)} s, target ${most} s; peak of all processes ${peak.toFixed(0)} MiB`,
  );
}
