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

/** What a backup holds, and of which release: the restore goes by it alone. */
export interface Manifest {
  format: number;
  madeAt: string;
  version: string;
  migrations: { name: string; checksum: string }[];
  tables: BackedTable[];
  partitions: { name: string; parent: string; bounds: string }[];
  sequences: { name: string; lastValue: string }[];
}

export const tableFile = (folder: string, name: string) => join(folder, `${name}.csv`);
