import { parseArgs } from 'node:util';
import type { Config } from '../config.js';
import { bringFiles } from '../files/backedFiles.js';
import { readBackup } from '../files/backupFolder.js';
import { filesOfConfig, MIGRATIONS, openDatabase, saidOf } from '../main.js';
import { claimFolder, markOf } from '../outside/folderMark.js';
import { keptHouse, releasePost, someFileKeys } from '../persistence/keptHouse.js';
import { restore } from '../persistence/restore.js';
import { commandLog } from './commandLog.js';
import { progressLine } from './progress.js';

export const USAGE = `npm run restore -- --from FOLDER [--check] [--live]
  or --live
  Into the database of DATABASE_URL or OPENBORE_DATA, which must be new: nothing is ever overwritten.
  Photographs and papers go into OPENBORE_FILES.
  --check only reads the backup and says whether it is whole.
  Webhooks of the restored base are off and no mail goes out, so that a drill calls nobody; keys and calendar addresses
  hold, and the night rings unless NIGHT=off. --live says that it is the real base now: at once, or later by itself.`;

/** Fills a new database from a backup, wholly or not at all. */
export async function restoreCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({
    args,
    options: {
      from: { type: 'string' },
      check: { type: 'boolean', default: false },
      live: { type: 'boolean', default: false },
    },
  });
  if (!values.from && values.live) return goLive(config);
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
  const { folder, store } = filesOfConfig(config);
  const mark = await markOf(folder);
  if (mark !== null) {
    console.error(`OPENBORE_FILES ${folder} is the folder of a business at work (${mark}): name a new one`);
    return 1;
  }
  const open = await openDatabase(config, commandLog());
  try {
    const writing = progressLine('restore');
    const from = values.from;
    await restore(open.pool, from, manifest, {
      bringFiles: () => bringFiles(store, from, files),
      migrations: MIGRATIONS,
      house: saidOf(config),
      live: values.live,
      onTable: (name, share) => writing.at(share, name),
    });
    writing.end();
    const kept = await keptHouse(open.pool);
    if (kept) await claimFolder(folder, kept.id, { keys: await someFileKeys(open.pool), asSet: true });
    const rows = tables.reduce((sum, table) => sum + table.rows, 0);
    console.log(
      `restored: ${rows} rows of ${tables.length} tables and ${files.length} files, as of ${madeAt}`,
    );
    if (!values.live) console.log('webhooks are off and no mail goes out until: npm run restore -- --live');
    return 0;
  } finally {
    await open.close();
  }
}

/** A restored base becomes the real one. */
async function goLive(config: Config): Promise<number> {
  const open = await openDatabase(config, commandLog());
  try {
    const since = await releasePost(open.pool);
    console.log(
      since === null
        ? 'nothing was held back: webhooks and mails go out already'
        : `held back since ${since}: webhooks and mails go out from now on, those that waited first`,
    );
    return 0;
  } finally {
    await open.close();
  }
}
