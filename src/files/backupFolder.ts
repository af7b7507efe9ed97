import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import {
  BACKUP_FORMAT,
  type BackedTable,
  backedFile,
  MANIFEST,
  type Manifest,
  tableFile,
} from '../actions/backedUp.js';
import { sumOf } from './fileSum.js';

const manifestShape = z.object({
  format: z.literal(BACKUP_FORMAT),
  madeAt: z.iso.datetime(),
  version: z.string(),
  migrations: z.array(z.object({ name: z.string(), checksum: z.string() })).min(1),
  tables: z.array(
    z.object({
      name: z.string().regex(/^[a-z_]+$/),
      columns: z.array(z.string()).min(1),
      rows: z.number().int(),
      bytes: z.number().int(),
      sha256: z.string().length(64),
    }),
  ),
  partitions: z.array(z.object({ name: z.string(), parent: z.string(), bounds: z.string() })),
  sequences: z.array(z.object({ name: z.string(), lastValue: z.string().regex(/^\d+$/) })),
  files: z
    .array(
      z.object({
        key: z.string().regex(/^[0-9a-f-]{36}\/[a-z0-9-]+$/),
        bytes: z.number().int(),
        sha256: z.string().length(64),
      }),
    )
    .default([]),
});

/**
 * The manifest of a backup whose files are all there, whole and unchanged.
 * @throws {Error} Naming the file that is missing, cut off or altered.
 */
export async function readBackup(folder: string): Promise<Manifest> {
  const text = await readFile(join(folder, MANIFEST), 'utf8').catch(() => {
    throw new Error(`${folder} holds no ${MANIFEST}: it is no backup, or one that was broken off`);
  });
  const parsed = manifestShape.safeParse(parseJson(text));
  if (!parsed.success)
    throw new Error(`${MANIFEST} is not one of this service: ${z.prettifyError(parsed.error)}`);
  for (const table of parsed.data.tables) await checkTable(folder, table);
  for (const { key, sha256 } of parsed.data.files) await checkFile(backedFile(folder, key), key, sha256);
  return parsed.data;
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

const checkTable = (folder: string, { name, sha256 }: BackedTable): Promise<void> =>
  checkFile(tableFile(folder, name), `${name}.csv`, sha256);

async function checkFile(path: string, name: string, sha256: string): Promise<void> {
  const sum = await sumOf(path).catch((error: unknown) => {
    throw new Error(`${name} cannot be read`, { cause: error });
  });
  if (sum !== sha256) throw new Error(`${name} is not as the backup wrote it: another copy is needed`);
}
