import { parseArgs } from 'node:util';
import { pino } from 'pino';
import type { Config } from '../config.js';
import { bringFiles } from '../files/backedFiles.js';
import { readBackup } from '../files/backupFolder.js';
import { fileStoreOf, MIGRATIONS, openDatabase } from '../main.js';
import { restore } from '../persistence/restore.js';
import { progressLine } from './progress.js';

export const USAGE = `npm run restore -- --from FOLDER [--check]
  Into the database of DATABASE_URL or OPENBORE_DATA, which must be new: nothing is ever overwritten.
  Photographs and papers go into OPENBORE_FILES.
  --check only reads the backup and says whether it is whole.`;

/** Fills a new database from a backup, wholly or not at all. */
export async function restoreCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({
    args,
    options: { from: { type: 'string' }, check: { type: 'boolean', default: false } },
  });
  if (!values.from) {
    console.error(USAGE);
    return 2;
  }
  const manifest = await readBackup(values.from);
  const { madeAt, tables, files, version } = manifest;
  if (values.check) {
    console.log(
      `whole: made ${madeAt} by release ${version}, ${tables.length} tables, ${files.length} files`,
    );
    return 0;
  }
  const open = await openDatabase(config, pino({ level: 'warn' }));
  try {
    const writing = progressLine('restore');
    const from = values.from;
    await restore(open.pool, from, manifest, {
      bringFiles: () => bringFiles(fileStoreOf(config), from, files),
      migrations: MIGRATIONS,
      onTable: (name, share) => writing.at(share, name),
    });
    writing.end();
    const rows = tables.reduce((sum, table) => sum + table.rows, 0);
    console.log(
      `restored: ${rows} rows of ${tables.length} tables and ${files.length} files, as of ${madeAt}`,
    );
    return 0;
  } finally {
    await open.close();
  }
}
