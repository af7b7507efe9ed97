import { randomUUID } from 'node:crypto';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { beforeEach, expect, onTestFinished, test } from 'vitest';
import { claimFolder, markOf } from '../../src/outside/folderMark.js';
import { folderStore } from '../../src/outside/folderStore.js';

const HOUSE = '0196f0a0-0000-7000-8000-000000000001';
const OTHER = '0196f0a0-0000-7000-8000-000000000002';
let folder: string;

beforeEach(() => {
  const above = mkdtempSync(join(tmpdir(), 'openbore-mark-'));
  onTestFinished(() => rmSync(above, { recursive: true, force: true }));
  folder = join(above, 'files');
});

const bytes = async function* (): AsyncGenerator<Buffer> {
  yield Buffer.from('seen');
};

async function keptFile(store = folderStore(folder)): Promise<string> {
  const key = `${randomUUID()}/0123456789abcdef-original`;
  const taken = await store.take(bytes(), 100);
  if (taken) await store.keep(taken, key);
  return key;
}

test('a new folder is marked, and is of no other business', async () => {
  await claimFolder(folder, HOUSE, { keys: [] });
  expect(await markOf(folder)).toBe(HOUSE);
  await claimFolder(folder, HOUSE, { keys: ['not/looked-for'] });
  await expect(claimFolder(folder, OTHER, { keys: [] })).rejects.toThrow(/folder of another business/);
  await expect(claimFolder(folder, OTHER, { keys: [], asSet: true })).rejects.toThrow(/another business/);
  expect(await markOf(folder)).toBe(HOUSE);
});

test('instances that start at once mark it once', async () => {
  const all = await Promise.allSettled(
    [HOUSE, HOUSE, OTHER].map((id) => claimFolder(folder, id, { keys: [] })),
  );
  const mark = await markOf(folder);
  expect(all.map(({ status }) => status)).toEqual(
    [HOUSE, HOUSE, OTHER].map((id) => (id === mark ? 'fulfilled' : 'rejected')),
  );
});

test('a folder of before with the files on record is taken; one without them is a share that is not mounted', async () => {
  const key = await keptFile();
  await claimFolder(folder, HOUSE, { keys: [key] });
  expect(await markOf(folder)).toBe(HOUSE);

  const bare = join(folder, 'bare');
  mkdirSync(bare);
  await expect(claimFolder(bare, HOUSE, { keys: [key] })).rejects.toThrow(
    /1 of 1 files .* is its share mounted/,
  );
  expect(await markOf(bare)).toBeNull();
  await claimFolder(bare, HOUSE, { keys: [key], asSet: true });
  expect(await markOf(bare)).toBe(HOUSE);
});

test('a folder that holds something is not taken by a database that knows of no file', async () => {
  await keptFile();
  await expect(claimFolder(folder, HOUSE, { keys: [] })).rejects.toThrow(/holds something/);
});

test('nothing is written where the mark went away, or something else is in the place of the folder', async () => {
  await claimFolder(folder, HOUSE, { keys: [] });
  const store = folderStore(folder, async () => (await markOf(folder)) === HOUSE);
  const key = await keptFile(store);
  expect(await store.size(key)).toBe(4);
  rmSync(folder, { recursive: true });
  await expect(store.take(bytes(), 100)).rejects.toMatchObject({ problem: { code: 'unavailable' } });
  writeFileSync(folder, 'no folder');
  await expect(store.take(bytes(), 100)).rejects.toMatchObject({ problem: { code: 'unavailable' } });
  // One that does not look says the same of it.
  await expect(folderStore(folder).take(bytes(), 100)).rejects.toMatchObject({
    problem: { code: 'unavailable' },
  });
});
