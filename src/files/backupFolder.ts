import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { BACKUP_FORMAT, type BackedTable, MANIFEST, type Manifest, tableFile } from '../actions/backedUp.js';

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
  for (const table of parsed.data.tables) await checkFile(folder, table);
  return parsed.data;
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

async function checkFile(folder: string, table: BackedTable): Promise<void> {
  const hash = createHash('sha256');
  try {
    for await (const chunk of createReadStream(tableFile(folder, table.name))) hash.update(chunk as Buffer);
  } catch (error) {
    throw new Error(`${table.name}.csv cannot be read`, { cause: error });
  }
  if (hash.digest('hex') !== table.sha256)
    throw new Error(`${table.name}.csv is not as the backup wrote it: another copy is needed`);
}
