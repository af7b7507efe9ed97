import { execFileSync } from 'node:child_process';
import { closeSync, openSync, rmSync, writeSync } from 'node:fs';
import { join } from 'node:path';

/** A folder on a file system of its own, so small that it can be filled up. */
export class SmallDisk {
  private readonly folder: string;

  private constructor(folder: string) {
    this.folder = folder;
  }

  /** Null where it cannot be mounted: not root, no tmpfs, a container without the right. */
  static mount(folder: string, megabytes: number): SmallDisk | null {
    try {
      execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${megabytes}m,mode=755`, 'openbore-faults', folder], {
        stdio: 'pipe',
      });
      return new SmallDisk(folder);
    } catch {
      return null;
    }
  }

  /** To the last block: blocks of a megabyte while they go, then of a page. */
  fill(): void {
    const file = openSync(join(this.folder, 'filler'), 'a');
    try {
      for (const size of [1 << 20, 4096]) while (hasRoom(file, size));
    } finally {
      closeSync(file);
    }
  }

  free(): void {
    rmSync(join(this.folder, 'filler'), { force: true });
  }

  unmount(): void {
    execFileSync('umount', [this.folder]);
  }
}

function hasRoom(file: number, size: number): boolean {
  try {
    return writeSync(file, Buffer.alloc(size)) > 0;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOSPC') return false;
    throw error;
  }
}
