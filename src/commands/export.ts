import { appendFile, mkdir, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { RECORD_KINDS } from '../actions/records/recordKinds.js';
import type { Config } from '../config.js';
import { clientBaseToCsv } from '../files/clientBaseCsv.js';
import { recordHeader, recordLines } from '../http/records/recordFile.js';
import { type OpenHouse, openHouse } from '../main.js';
import { readBooks } from '../persistence/readBooks.js';
import { readRecords } from '../persistence/recordStore.js';
import { commandLog } from './commandLog.js';

export const USAGE = `npm run export -- --dir FOLDER
  FOLDER, new or empty, gets sites.csv, lines.csv, readings.csv and crews.csv in the form of your books, and in
  FOLDER/records one CSV for every kind of record, with ids: import --records FOLDER/records takes all of it back.
  What stays (photographs, secrets, plans): openapi/import.md. With all of that: npm run backup.`;

/** Writes the client base in the form of the books, and every kind of record: the import takes either back. */
export async function exportCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({ args, options: { dir: { type: 'string' } } });
  if (!values.dir) {
    console.error(USAGE);
    return 2;
  }
  await mkdir(values.dir, { recursive: true });
  if ((await readdir(values.dir)).length > 0) {
    console.error(`${values.dir} is not empty: name a new folder`);
    return 1;
  }
  const open = await openHouse(config, { log: commandLog(), as: 'command' });
  try {
    const base = await readBooks(open.pool, open.house.zone.name);
    for (const [name, text] of Object.entries(clientBaseToCsv(base)))
      await writeFile(join(values.dir, `${name}.csv`), text);
    const records = await writeRecords(open.pool, join(values.dir, 'records'));
    const { sites, lines, readings, crews } = base;
    console.log(
      `exported: ${sites.length} sites, ${lines.length} lines, ${readings.length} readings and cleans, ${crews.length} crews; records: ${records} of ${RECORD_KINDS.length} kinds`,
    );
    return 0;
  } finally {
    await open.close();
  }
}

/** One CSV a kind, all as of one instant; the number of records. */
async function writeRecords(pool: OpenHouse['pool'], folder: string): Promise<number> {
  await mkdir(folder);
  let records = 0;
  const begun = new Set<string>();
  await readRecords(pool, RECORD_KINDS, async (kind, table, rows) => {
    const header = begun.has(kind.name) ? '' : recordHeader(kind, table);
    begun.add(kind.name);
    await appendFile(join(folder, `${kind.name}.csv`), header + recordLines(kind, table, rows));
    records += rows.length;
  });
  return records;
}
