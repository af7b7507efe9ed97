import { readFileSync } from 'node:fs';
import { join } from 'node:path';

/** What `postmaster.pid` in a data folder says about the server that wrote it. */
export type Postmaster = { pid: number; socketFolder: string };

/** @returns null where no server wrote the file, or has not yet finished writing it. */
export function readPostmaster(dataFolder: string): Postmaster | null {
  let text: string;
  try {
    text = readFileSync(join(dataFolder, 'postmaster.pid'), 'utf8');
  } catch (error) {
    if (error instanceof Error && 'code' in error && error.code === 'ENOENT') return null;
    throw error;
  }
  // Lines: pid, data folder, start time, port, socket folder, listen address, shared memory key, status.
  const [pid, , , , socketFolder] = text.split('\n');
  if (!pid || !socketFolder) return null;
  return { pid: Number(pid), socketFolder };
}

/** True when a process of this number exists, whoever owns it. */
export function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error instanceof Error && 'code' in error && error.code === 'EPERM';
  }
}
