import { access, mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';

/** Holds the id of the business whose files lie in the folder. */
const MARK = 'house';
const pathOf = (folder: string) => join(folder, MARK);
/** What a new file system, or a start that broke off, leaves. */
const NOTHING = new Set(['lost+found', 'incoming']);

/** @returns Null: the folder bears none, or is not there. */
export async function markOf(folder: string): Promise<string | null> {
  try {
    return (await readFile(pathOf(folder), 'utf8')).trim();
  } catch {
    return null;
  }
}

/**
 * Makes sure that a folder is of this business, and marks one that is new.
 *
 * @param keys Some of the files on record, newest first.
 * @param asSet Whether a folder without a mark is taken as it is.
 * @throws {Error} When it is another's, or may be: no instance may sweep there, and a share that is not mounted is no new folder.
 */
export async function claimFolder(
  folder: string,
  houseId: string,
  { keys, asSet = false }: { keys: readonly string[]; asSet?: boolean },
): Promise<void> {
  const mark = await markOf(folder);
  if (mark !== null) return refuseOther(folder, houseId, mark);
  if (!asSet) await refuseStrange(folder, keys);
  await mkdir(folder, { recursive: true });
  try {
    await writeFile(pathOf(folder), `${houseId}\n`, { flag: 'wx', mode: 0o600, flush: true });
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
    refuseOther(folder, houseId, await markOf(folder)); // another instance was first
  }
}

function refuseOther(folder: string, houseId: string, mark: string | null): void {
  if (mark !== houseId)
    throw new Error(
      `OPENBORE_FILES ${folder} is the folder of another business (its mark is ${mark ?? 'not to be read'}, this database has ${houseId}): name the one of this business, or a new one`,
    );
}

async function refuseStrange(folder: string, keys: readonly string[]): Promise<void> {
  const there = await Promise.all(keys.map((key) => isThere(join(folder, key.slice(0, 2), key))));
  const missing = there.filter((isHere) => !isHere).length;
  const remedy = '`npm run migrate -- --as-set` takes the folder as it is';
  if (missing > 0)
    throw new Error(
      `OPENBORE_FILES ${folder} bears no mark, and ${missing} of ${keys.length} files looked for are not in it: is its share mounted? If it is right, ${remedy}`,
    );
  if (keys.length > 0) return;
  const names = await readdir(folder).catch(() => []);
  if (names.some((name) => !NOTHING.has(name)))
    throw new Error(
      `OPENBORE_FILES ${folder} holds something, and this database knows of no file: name a new folder. If it is right, ${remedy}`,
    );
}

const isThere = (path: string): Promise<boolean> =>
  access(path).then(
    () => true,
    () => false,
  );
