import { demoCommand } from './commands/demo.js';
import { forecastCommand } from './commands/forecast.js';
import { importCommand } from './commands/import.js';
import { keyCommand } from './commands/key.js';
import { nightlyCommand } from './commands/nightly.js';
import { openapiCommand } from './commands/openapi.js';
import { planCommand } from './commands/plan.js';
import { serveCommand } from './commands/serve.js';
import { readConfig } from './config.js';
import { openHouse } from './main.js';

interface Command {
  about: string;
  run: (args: string[]) => Promise<number>;
}

const COMMANDS: Record<string, Command> = {
  demo: {
    about: 'an invented business: one night, its routes, then it serves (--once: ends)',
    run: (args) => demoCommand(args, readConfig(process.env)),
  },
  serve: { about: 'serve the API until stopped', run: () => serveCommand(readConfig(process.env)) },
  migrate: {
    about: 'bring the database to this release',
    run: async () => {
      const open = await openHouse(readConfig(process.env));
      await open.close();
      return 0;
    },
  },
  import: {
    about: 'bring a client base in from CSV files',
    run: (args) => importCommand(args, readConfig(process.env)),
  },
  nightly: {
    about: "run one night's work now",
    run: (args) => nightlyCommand(args, readConfig(process.env)),
  },
  forecast: {
    about: 'forecast a spreadsheet of lines and readings, without a database',
    run: forecastCommand,
  },
  plan: { about: 'plan routes for a problem file, without a database', run: planCommand },
  openapi: { about: 'write openapi/openapi.json from the code', run: openapiCommand },
  key: { about: 'make an access key', run: (args) => keyCommand(args, readConfig(process.env)) },
};

/** One door for everything that is run by hand. Exit codes: 0 done, 1 refused or failed, 2 called wrongly. */
async function main(): Promise<number> {
  const [name = '', ...args] = process.argv.slice(2);
  const command = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  if (!command) {
    const rows = Object.entries(COMMANDS).map(([key, { about }]) => `  npm run ${key.padEnd(9)} ${about}`);
    console.error(`${name ? `no command ${name}. ` : ''}Commands:\n${rows.join('\n')}`);
    return 2;
  }
  try {
    return await command.run(args);
  } catch (error) {
    console.error(error instanceof Error ? error.message : String(error));
    return 1;
  }
}

process.exitCode = await main();
