import { join } from 'node:path';

export const MANIFEST = 'manifest.json';
export const BACKUP_FORMAT = 1;

export interface BackedTable {
  name: string;
  columns: string[];
  rows: number;
  bytes: number;
  sha256: string;
}

/** A photograph, clip or document of the store, by its key. */
export interface BackedFile {
  key: string;
  bytes: number;
  sha256: string;
}

/** What a backup holds, and of which release: the restore goes by it alone. */
export interface Manifest {
  format: number;
  madeAt: string;
  version: string;
  migrations: { name: string; checksum: string }[];
  tables: BackedTable[];
  partitions: { name: string; parent: string; bounds: string }[];
  sequences: { name: string; lastValue: string }[];
  /** None in a backup of a release that left them out. */
  files: BackedFile[];
}

export const tableFile = (folder: string, name: string) => join(folder, `${name}.csv`);
export const backedFile = (folder: string, key: string) => join(folder, 'files', key);
