import { createReadStream, createWriteStream } from 'node:fs';
import { mkdir, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { type BackedFile, backedFile } from '../actions/backedUp.js';
import type { FileStore } from '../actions/files/fileStore.js';
import { sumOf } from './fileSum.js';

/**
 * Copies the files of a store beside the tables of a backup.
 *
 * @returns What was copied, with its sum; and keys under which nothing lies, as after an erasure meanwhile.
 */
export async function copyFiles(
  store: FileStore,
  folder: string,
  keys: readonly string[],
): Promise<{ files: BackedFile[]; missing: string[] }> {
  const files: BackedFile[] = [];
  const missing: string[] = [];
  for (const key of keys) {
    const stream = await store.read(key);
    if (stream === null) {
      missing.push(key);
      continue;
    }
    const path = backedFile(folder, key);
    await mkdir(dirname(path), { recursive: true, mode: 0o700 });
    await pipeline(stream, createWriteStream(path, { mode: 0o600, flush: true }));
    files.push({ key, bytes: (await stat(path)).size, sha256: await sumOf(path) });
  }
  return { files, missing };
}

/** Puts the files of a backup into a store, before the rows that point to them. */
export async function bringFiles(
  store: FileStore,
  folder: string,
  files: readonly BackedFile[],
): Promise<void> {
  for (const { key, bytes } of files) {
    const taken = await store.take(createReadStream(join(backedFile(folder, key))), bytes);
    if (taken === null) throw new Error(`${key} has grown since the backup was looked at`);
    await store.keep(taken, key);
  }
}
