import { statfs } from 'node:fs/promises';

/** What may still be written where a folder lies; null: nobody can tell. */
export async function freeBytes(folder: string): Promise<number | null> {
  try {
    const { bavail, bsize } = await statfs(folder);
    return bavail * bsize;
  } catch {
    return null;
  }
}
