import { parseArgs } from 'node:util';
import type { Config } from '../config.js';
import { copyFiles } from '../files/backedFiles.js';
import { filesOfConfig, openDatabase, VERSION } from '../main.js';
import { backup, markBackedUp } from '../persistence/backup.js';
import { commandLog } from './commandLog.js';
import { progressLine } from './progress.js';

export const USAGE = `npm run backup -- --to FOLDER
  FOLDER is new or empty. The service may go on meanwhile. The database is read as it is, also one of an earlier release.`;

/** Copies all that is on record into a folder: a CSV file a table, photographs and papers, and a manifest with their sums. */
export async function backupCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({ args, options: { to: { type: 'string' } } });
  if (!values.to) {
    console.error(USAGE);
    return 2;
  }
  const { store } = filesOfConfig(config);
  const open = await openDatabase(config, commandLog());
  try {
    const writing = progressLine('backup');
    const to = values.to;
    const lost: string[] = [];
    const { tables, files } = await backup(open.pool, to, {
      version: VERSION,
      madeAt: new Date(),
      onTable: (name, share) => writing.at(share, name),
      copyFiles: async (keys) => {
        const copied = await copyFiles(store, to, keys);
        lost.push(...copied.missing);
        return copied.files;
      },
    });
    writing.end();
    const rows = tables.reduce((sum, table) => sum + table.rows, 0);
    console.log(`backup: ${rows} rows of ${tables.length} tables and ${files.length} files in ${to}`);
    if (lost.length === 0) {
      await markBackedUp(open.pool);
      return 0;
    }
    console.error(`${lost.length} files that records point to are not there, as ${lost[0]}`);
    return 1;
  } finally {
    await open.close();
  }
}
