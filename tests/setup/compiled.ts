import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, expect } from 'vitest';

const ROOT = join(import.meta.dirname, '../..');

/**
 * The service compiled for a test file: threads run compiled code. It lies in the repository so that it finds its
 * packages, and goes with the test.
 *
 * @returns Where a file of `src` lies, as `jobs/lineThread.js`.
 */
export function compiledService(): (file: string) => URL {
  const folder = mkdtempSync(join(ROOT, 'node_modules/.threads-'));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));
  const tsc = createRequire(import.meta.url).resolve('typescript/bin/tsc');
  const { status } = spawnSync(
    process.execPath,
    [tsc, '-p', join(ROOT, 'tsconfig.build.json'), '--noCheck', '--outDir', folder],
    { stdio: 'inherit' },
  );
  expect(status).toBe(0);
  return (file) => pathToFileURL(join(folder, file));
}
