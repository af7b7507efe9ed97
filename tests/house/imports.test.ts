import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';

const root = join(import.meta.dirname, '../..');
const cruiser = join(root, 'node_modules/dependency-cruiser/bin/dependency-cruise.mjs');

interface Cruise {
  modules: { source: string }[];
  summary: { violations: { rule: { name: string }; from: string; to: string }[] };
}

/** What the cruiser sees in a folder's `src`, under the house's own rules. */
function cruise(folder: string): { seen: string[]; broken: string[] } {
  const { stdout, stderr } = spawnSync(
    process.execPath,
    [cruiser, 'src', '--config', join(root, '.dependency-cruiser.cjs'), '--output-type', 'json'],
    { cwd: folder, encoding: 'utf8', maxBuffer: 64_000_000 },
  );
  if (stdout === '') throw new Error(stderr);
  const { modules, summary } = JSON.parse(stdout) as Cruise;
  return {
    seen: modules.map(({ source }) => source),
    broken: summary.violations.map(({ rule, from, to }) => `${rule.name}: ${from} -> ${to}`),
  };
}

/** A little house of the given files, gone after the test. */
function houseOf(files: Record<string, string>): string {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-house-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  writeFileSync(join(folder, 'tsconfig.json'), '{ "compilerOptions": { "module": "NodeNext" } }');
  for (const [path, text] of Object.entries(files)) {
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), text);
  }
  return folder;
}

test('imports point inward, in every file of src', () => {
  const files = readdirSync(join(root, 'src'), { recursive: true, encoding: 'utf8' })
    .filter((path) => path.endsWith('.ts') && !path.startsWith('generated'))
    .map((path) => `src/${path}`);
  const { seen, broken } = cruise(root);
  expect(files.length).toBeGreaterThan(100);
  expect(files.filter((file) => !seen.includes(file))).toEqual([]);
  expect(broken).toEqual([]);
});

/** File, what it imports, the rule that must refuse it. */
const FORBIDDEN = [
  ['src/domain/a.ts', '../actions/b.js', 'domain-looks-inward'],
  ['src/domain/a.ts', 'node:fs', 'pure-core'],
  ['src/domain/routing/a.ts', '../../papers/b.js', 'domain-looks-inward'],
  ['src/papers/a.ts', '../actions/b.js', 'papers-looks-inward'],
  ['src/papers/a.ts', 'node:fs', 'papers-write-no-file'],
  ['src/actions/a.ts', '../persistence/b.js', 'actions-looks-inward'],
  ['src/http/a.ts', '../persistence/b.js', 'http-looks-inward'],
  ['src/jobs/a.ts', '../http/b.js', 'jobs-looks-inward'],
  ['src/persistence/a.ts', '../jobs/b.js', 'persistence-looks-inward'],
  ['src/outside/a.ts', '../persistence/b.js', 'outside-looks-inward'],
  ['src/files/a.ts', '../persistence/b.js', 'files-looks-inward'],
  ['src/demo/a.ts', '../main.js', 'nobody-imports-the-top'],
  ['src/http/a.ts', '../config.js', 'nobody-imports-the-top'],
  ['src/main.ts', './commands/b.js', 'main-starts-no-command'],
] as const;

test('every forbidden direction is refused', () => {
  const files: Record<string, string> = {};
  for (const [from, to] of FORBIDDEN) {
    files[from] = `${files[from] ?? ''}export type * from '${to}';\n`;
    if (to.startsWith('.'))
      files[join(dirname(from), to.replace('.js', '.ts'))] ??= 'export type B = string;\n';
  }
  const expected = FORBIDDEN.map(([from, to, rule]) => {
    const target = to.startsWith('.')
      ? join(dirname(from), to.replace('.js', '.ts'))
      : to.replace('node:', '');
    return `${rule}: ${from} -> ${target}`;
  });
  expect(cruise(houseOf(files)).broken).toEqual(expect.arrayContaining(expected));
});

test('a door may use what lies inward of it', () => {
  const folder = houseOf({
    'src/main.ts': `import { a } from './http/a.js';\nimport { c } from './persistence/c.js';\nexport const all = [a, c];\n`,
    'src/http/a.ts': `import { b } from '../actions/b.js';\nexport const a = b;\n`,
    'src/persistence/c.ts': `import { b } from '../actions/b.js';\nexport const c = b;\n`,
    'src/actions/b.ts': `import { d } from '../domain/d.js';\nexport const b = d;\n`,
    'src/domain/d.ts': 'export const d = 1;\n',
  });
  const { seen, broken } = cruise(folder);
  expect(seen).toHaveLength(5);
  expect(broken).toEqual([]);
});
