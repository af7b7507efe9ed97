import { parseArgs } from 'node:util';
import type { Config } from '../config.js';
import { openHouse } from '../main.js';

export const USAGE = `npm run migrate -- [--as-set]
  Back up first, with the release that is at work.
  --as-set, with every instance stopped: TIME_ZONE, CURRENCY, UNITS and OPENBORE_FILES as they are set are this
  business's from now on, though its database says otherwise or the folder bears no mark.`;

/** Brings the database to this release. */
export async function migrateCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({ args, options: { 'as-set': { type: 'boolean', default: false } } });
  const open = await openHouse(config, { asSet: values['as-set'] });
  const { timeZone, currency, units } = open.kept;
  console.log(`of this release; kept in ${timeZone}, ${currency}, ${units}`);
  await open.close();
  return 0;
}
