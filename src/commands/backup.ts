import { parseArgs } from 'node:util';
import { pino } from 'pino';
import type { Config } from '../config.js';
import { openHouse, VERSION } from '../main.js';
import { backup } from '../persistence/backup.js';
import { progressLine } from './progress.js';

export const USAGE = `npm run backup -- --to FOLDER
  FOLDER is new or empty. The service may go on meanwhile.`;

/** Copies all that is on record into a folder: a CSV file a table and a manifest with their sums. */
export async function backupCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({ args, options: { to: { type: 'string' } } });
  if (!values.to) {
    console.error(USAGE);
    return 2;
  }
  const open = await openHouse(config, pino({ level: 'warn' }));
  try {
    const writing = progressLine('backup');
    const { tables } = await backup(open.pool, values.to, {
      version: VERSION,
      madeAt: open.house.clock.now(),
      onTable: (name, share) => writing.at(share, name),
    });
    writing.end();
    const rows = tables.reduce((sum, table) => sum + table.rows, 0);
    console.log(`backup: ${rows} rows of ${tables.length} tables in ${values.to}`);
    return 0;
  } finally {
    await open.close();
  }
}
