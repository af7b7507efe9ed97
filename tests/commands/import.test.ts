import { mkdtemp, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeAll, beforeEach, expect, test, vi } from 'vitest';
import { importCommand } from '../../src/commands/import.js';
import { type Config, readConfig } from '../../src/config.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const NOWHERE = readConfig({ DATABASE_URL: 'postgresql://127.0.0.1:1/none' });
const SITES = 'client,address,latitude,longitude\nClient 1,1 Marsh Gate,44.6,-90.3\n';

let t: TestHouse;
let config: Config;
let said: string[];
beforeAll(async () => {
  t = await testHouse();
  config = readConfig({ DATABASE_URL: t.url });
});
beforeEach(() => {
  said = [];
  for (const stream of ['log', 'error'] as const)
    vi.spyOn(console, stream).mockImplementation((line) => said.push(String(line)));
});
afterEach(() => vi.restoreAllMocks());

async function folder(files: Record<string, string>): Promise<string> {
  const path = await mkdtemp(join(tmpdir(), 'books-'));
  for (const [name, text] of Object.entries(files)) await writeFile(join(path, `${name}.csv`), text);
  return path;
}

/** The whole door, as a user types it. */
async function cli(...args: string[]): Promise<number> {
  const before = process.argv;
  process.argv = ['node', 'cli.js', ...args];
  try {
    vi.resetModules();
    await import('../../src/cli.js');
    return Number(process.exitCode);
  } finally {
    process.argv = before;
    process.exitCode = 0;
  }
}

test('one fault is one fault, and no database is needed to find it', async () => {
  const dir = await folder({ sites: `${SITES}Client 2,,,\n` });
  expect(await importCommand(['--dir', dir], NOWHERE)).toBe(1);
  expect(said.at(-2)).toBe('sites.csv line 3, address "": empty; fill it in');
  expect(said.at(-1)).toBe('1 fault; nothing was imported.');
  await importCommand(['--dir', await folder({ sites: `${SITES}Client 2,,91,\n` })], NOWHERE);
  expect(said.at(-1)).toBe('2 faults; nothing was imported.');
});

test('good books come in, and what is worth a look is said', async () => {
  const dir = await folder({ sites: `${SITES}Client 2,2 Marsh Gate,,\n` });
  expect(await importCommand(['--dir', dir, '--dry-run'], config)).toBe(0);
  expect(said.at(-1)).toMatch(/^dry run, nothing kept: 2 clients, 2 sites/);
  expect(said.join('\n')).toContain('sites.csv line 3: without latitude and longitude: 1 of 2 sites');
});

test('an import while another one writes is refused in words', async () => {
  const dir = await folder({ sites: SITES });
  await t.house.transact({ name: 'first' }, async (stores) => {
    await stores.imports.takeTurn();
    await expect(importCommand(['--dir', dir], config)).rejects.toThrow(
      'Another import is under way; nothing of this one was kept. Start it again when that has ended.',
    );
  });
});

test('--help tells how a command is called; a word it does not know is answered with the same', async () => {
  expect(await cli('import', '--help')).toBe(0);
  expect(said.join('\n')).toContain('npm run import -- --dir FOLDER');
  said = [];
  expect(await cli('import', '--dri-run')).toBe(2);
  expect(said.join('\n')).toMatch(/--dri-run[\s\S]*npm run import -- --dir FOLDER/);
  for (const name of ['nightly', 'key', 'forecast', 'plan']) {
    said = [];
    expect(await cli(name, '--help')).toBe(0);
    expect(said.join('\n')).toContain(`npm run ${name} -- `);
  }
  said = [];
  expect(await cli('--help')).toBe(0);
  expect(said.join('\n')).toContain('npm run import');
});
