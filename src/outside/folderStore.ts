import { createHash, randomUUID } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { type FileHandle, mkdir, open, readdir, rename, rm, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { Edit, FileStore, TakenFile } from '../actions/files/fileStore.js';
import { Refused } from '../actions/problems.js';

/** Keys are made here, of ids and words; what could lead out of the folder is none. */
const KEY = /^[0-9a-f-]{36}\/[a-z0-9-]+$/;
const INCOMING = 'incoming';
/** What was swept lies here, by the day. */
const ASIDE = 'aside';

/**
 * Files in a folder, each written aside, forced to disk, and put in place by a rename.
 *
 * @param isOurs Asked before each writing: whether the folder is the one of this business, and there.
 */
export function folderStore(folder: string, isOurs: () => Promise<boolean> = async () => true): FileStore {
  const incoming = join(folder, INCOMING);
  const pathOf = (key: string): string => {
    if (!KEY.test(key)) throw new RangeError(`not a key of a file: ${key}`);
    return join(folder, key.slice(0, 2), key);
  };

  async function aside(write: (file: FileHandle) => Promise<void>): Promise<string> {
    if (!(await isOurs())) throw notKept(new Error(`${folder} does not bear the mark of this business`));
    await mkdir(incoming, { recursive: true });
    const path = join(incoming, randomUUID());
    const file = await open(path, 'wx', 0o600);
    try {
      await write(file);
      await file.sync();
    } catch (error) {
      await rm(path, { force: true });
      throw error;
    } finally {
      await file.close();
    }
    return path;
  }

  async function place(path: string, key: string): Promise<void> {
    const target = pathOf(key);
    await mkdir(dirname(target), { recursive: true });
    await rename(path, target);
    await syncFolder(dirname(target));
  }

  return {
    take: (bytes, atMost) =>
      unlessFull(async () => {
        const hash = createHash('sha256');
        let count = 0;
        const path = await aside(async (file) => {
          for await (const part of bytes) {
            count += part.length;
            if (count > atMost) return;
            hash.update(part);
            await file.write(part);
          }
        });
        if (count > atMost) {
          await rm(path, { force: true });
          return null;
        }
        return { path, bytes: count, sha256: hash.digest() };
      }),
    keep: ({ path }, key) => unlessFull(() => place(path, key)),
    put: (bytes, key) => unlessFull(async () => place(await aside((file) => file.writeFile(bytes)), key)),
    putEdited: (taken, key, edits) =>
      unlessFull(async () => {
        const path = await aside(async (file) => {
          for await (const part of createReadStream(taken.path)) await file.write(part as Buffer);
          for (const edit of edits) await writeOver(file, edit);
        });
        await place(path, key);
      }),
    drop: ({ path }: TakenFile) => rm(path, { force: true }),
    async read(key, range) {
      const path = pathOf(key);
      if ((await sizeOf(path)) === null) return null;
      return createReadStream(path, range ? { start: range.from, end: range.to } : {});
    },
    size: (key) => sizeOf(pathOf(key)),
    async keysBefore(at) {
      const old: string[] = [];
      for (const { path, name } of await filesUnder(folder)) {
        if (path.startsWith(join(folder, ASIDE, '/'))) continue;
        if ((await changedAt(path)) >= at.getTime()) continue;
        if (dirname(path) === incoming) await rm(path, { force: true });
        else old.push(name);
      }
      return old;
    },
    async putAside(key, day) {
      const target = join(folder, ASIDE, day, key);
      await mkdir(dirname(target), { recursive: true });
      await there(rename(pathOf(key), target));
    },
    async forgetAside(before) {
      const days = (await there(readdir(join(folder, ASIDE)))) ?? [];
      for (const day of days.filter((each) => DAY.test(each) && each < before))
        await rm(join(folder, ASIDE, day), { recursive: true, force: true });
    },
    remove: (key) => rm(pathOf(key), { force: true }),
  };
}

const DAY = /^\d{4}-\d{2}-\d{2}$/;

const ZEROS = Buffer.alloc(65_536);

async function writeOver(file: FileHandle, edit: Edit): Promise<void> {
  if ('bytes' in edit) await file.write(edit.bytes, 0, edit.bytes.length, edit.at);
  else
    for (let done = 0; done < edit.zeros; done += ZEROS.length)
      await file.write(ZEROS, 0, Math.min(ZEROS.length, edit.zeros - done), edit.at + done);
}

/** Name: the last two parts of the path, which are the key. */
async function filesUnder(folder: string): Promise<{ path: string; name: string }[]> {
  const found = (await there(readdir(folder, { recursive: true, withFileTypes: true }))) ?? [];
  return found
    .filter((entry) => entry.isFile())
    .map((entry) => {
      const path = join(entry.parentPath, entry.name);
      return { path, name: path.split('/').slice(-2).join('/') };
    })
    .filter(({ path, name }) => KEY.test(name) || dirname(path) === join(folder, INCOMING));
}

const changedAt = async (path: string): Promise<number> => (await there(stat(path)))?.mtimeMs ?? Infinity;
const sizeOf = async (path: string): Promise<number | null> => (await there(stat(path)))?.size ?? null;

/** Null for what is not there; a disk that fails is told. */
async function there<T>(asked: Promise<T>): Promise<T | null> {
  try {
    return await asked;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw error;
  }
}

async function syncFolder(path: string): Promise<void> {
  const folder = await open(path, 'r');
  try {
    await folder.sync();
  } finally {
    await folder.close();
  }
}

/** No room, or no folder: a disk that is full, a share that went away, something else in its place. */
const NO_ROOM = new Set([
  ...['ENOSPC', 'EDQUOT', 'EROFS', 'EACCES', 'EPERM', 'ENOTDIR', 'EEXIST'],
  ...['EIO', 'ESTALE', 'ENOTCONN', 'EHOSTDOWN', 'ETIMEDOUT', 'ENODEV'],
]);

const notKept = (cause: Error): Refused =>
  Object.assign(
    new Refused({ code: 'unavailable', detail: 'Files cannot be kept just now. Send it again later.' }),
    { cause },
  );

/** A disk that takes nothing more is told as what it is; what was begun is gone. */
async function unlessFull<T>(work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof Error && 'code' in error && NO_ROOM.has(String(error.code))) throw notKept(error);
    throw error;
  }
}
