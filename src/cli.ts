import { backupCommand, USAGE as backupUsage } from './commands/backup.js';
import { demoCommand } from './commands/demo.js';
import { exportCommand, USAGE as exportUsage } from './commands/export.js';
import { forecastCommand, USAGE as forecastUsage } from './commands/forecast.js';
import { importCommand, USAGE as importUsage } from './commands/import.js';
import { keyCommand, USAGE as keyUsage } from './commands/key.js';
import { migrateCommand, USAGE as migrateUsage } from './commands/migrate.js';
import { nightlyCommand, USAGE as nightlyUsage } from './commands/nightly.js';
import { openapiCommand } from './commands/openapi.js';
import { planCommand, USAGE as planUsage } from './commands/plan.js';
import { restoreCommand, USAGE as restoreUsage } from './commands/restore.js';
import { serveCommand } from './commands/serve.js';
import { readConfig } from './config.js';

interface Command {
  about: string;
  /** How it is called, when it takes options. */
  usage?: string;
  run: (args: string[]) => Promise<number>;
}

const FILES = { keepsFiles: true };

const COMMANDS: Record<string, Command> = {
  demo: {
    about: 'an invented business: one night, its routes, then it serves (--once: ends)',
    run: (args) => demoCommand(args, readConfig(process.env)),
  },
  serve: {
    about: 'serve the API until stopped',
    run: () => serveCommand(readConfig(process.env, FILES), process.env),
  },
  migrate: {
    about: 'bring the database to this release',
    usage: migrateUsage,
    run: (args) => migrateCommand(args, readConfig(process.env, FILES)),
  },
  import: {
    about: 'bring a client base in from CSV files',
    usage: importUsage,
    run: (args) => importCommand(args, readConfig(process.env)),
  },
  export: {
    about: 'write the client base as the CSV files that the import reads',
    usage: exportUsage,
    run: (args) => exportCommand(args, readConfig(process.env)),
  },
  nightly: {
    about: "run one night's work now",
    usage: nightlyUsage,
    run: (args) => nightlyCommand(args, readConfig(process.env)),
  },
  forecast: {
    about: 'forecast a spreadsheet of lines and readings, without a database',
    usage: forecastUsage,
    run: forecastCommand,
  },
  plan: {
    about: 'plan routes for a problem file, without a database',
    usage: planUsage,
    run: planCommand,
  },
  backup: {
    about: 'copy all that is on record into a folder, while work goes on',
    usage: backupUsage,
    run: (args) => backupCommand(args, readConfig(process.env, FILES)),
  },
  restore: {
    about: 'fill a new database from such a folder',
    usage: restoreUsage,
    run: (args) => restoreCommand(args, readConfig(process.env, FILES)),
  },
  openapi: { about: 'write openapi/openapi.json from the code', run: openapiCommand },
  key: {
    about: 'make an access key',
    usage: keyUsage,
    run: (args) => keyCommand(args, readConfig(process.env)),
  },
};

/** One door for everything that is run by hand. Exit codes: 0 done, 1 refused or failed, 2 called wrongly. */
async function main(): Promise<number> {
  const [name = '', ...args] = process.argv.slice(2);
  const command = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  const asksHelp = [name, ...args].some((arg) => arg === '--help' || arg === '-h');
  if (!command) {
    const rows = Object.entries(COMMANDS).map(([key, { about }]) => `  npm run ${key.padEnd(9)} ${about}`);
    const known = `Commands:\n${rows.join('\n')}`;
    if (asksHelp) console.log(known);
    else console.error(`${name ? `no command ${name}. ` : ''}${known}`);
    return asksHelp ? 0 : 2;
  }
  const usage = command.usage ?? `npm run ${name}`;
  if (asksHelp) {
    console.log(`${name}: ${command.about}\n${usage}`);
    return 0;
  }
  try {
    return await command.run(args);
  } catch (error) {
    console.error(error instanceof Error ? error.message : String(error));
    if (!isCalledWrongly(error)) return 1;
    console.error(usage);
    return 2;
  }
}

/** Node's own parser of options did not know one, or missed its value. */
const isCalledWrongly = (error: unknown): boolean =>
  error instanceof Error && 'code' in error && String(error.code).startsWith('ERR_PARSE_ARGS');

process.exitCode = await main();
