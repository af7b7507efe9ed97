import { mkdir, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { pino } from 'pino';
import type { Config } from '../config.js';
import { clientBaseToCsv } from '../files/clientBaseCsv.js';
import { openHouse } from '../main.js';
import { readBooks } from '../persistence/readBooks.js';

export const USAGE = `npm run export -- --dir FOLDER
  FOLDER, new or empty, gets sites.csv, lines.csv, readings.csv and crews.csv as the import reads them.
  Every other list: GET it with Accept: text/csv. All that is on record: npm run backup.`;

/** Writes the client base in the form of the books: what the import takes in gives the same base again. */
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
  const open = await openHouse(config, pino({ level: 'warn' }));
  try {
    const base = await readBooks(open.pool, open.house.zone.name);
    for (const [name, text] of Object.entries(clientBaseToCsv(base)))
      await writeFile(join(values.dir, `${name}.csv`), text);
    const { sites, lines, readings, crews } = base;
    console.log(
      `exported: ${sites.length} sites, ${lines.length} lines, ${readings.length} readings and cleans, ${crews.length} crews`,
    );
    return 0;
  } finally {
    await open.close();
  }
}
