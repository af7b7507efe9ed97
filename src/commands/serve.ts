import { once } from 'node:events';
import { createServer } from 'node:net';
import { type Config, nearMisses } from '../config.js';
import { openHouse, serve, VERSION } from '../main.js';

/** Serves until SIGINT or SIGTERM. */
export async function serveCommand(config: Config, environment: NodeJS.ProcessEnv = {}): Promise<number> {
  // Before anything is migrated, worked on or swept: a service that cannot be reached does nothing.
  await mustBeFree(config);
  const stopping = stopAsked();
  const open = await openHouse(config);
  for (const { name, meant } of nearMisses(environment))
    open.log.warn({ name, meant }, 'a setting of this name is not known: is the other meant?');
  const running = await serve(config, open).catch(async (error: unknown) => {
    // Nothing is left running behind a service that could not start, least of all its database.
    await open.close();
    throw error;
  });
  const { id, timeZone, currency, units } = open.kept;
  open.log.info(
    {
      url: running.url,
      docs: `${running.url}/docs`,
      version: VERSION,
      house: id,
      kept: { timeZone, currency, units },
      night: config.NIGHT === 'on' ? config.NIGHT_AT : 'off',
      mail: config.MAIL_HOST !== undefined,
      requestsPerMinute: config.REQUESTS_PER_MINUTE,
    },
    'serving',
  );
  await stopping;
  open.log.info('stopping: requests are finished, long work is handed back');
  try {
    await running.stop();
  } finally {
    await open.close();
  }
  open.log.info('stopped');
  // Threads of work that was handed back may still count on.
  setTimeout(() => process.exit(), LAST_MS).unref();
  return 0;
}

const LAST_MS = 2_000;

/** @throws {Error} Somebody else has the port. */
async function mustBeFree({ HOST: host, PORT: port }: Config): Promise<void> {
  if (port === 0) return;
  const door = createServer().listen({ host, port });
  await once(door, 'listening');
  door.close();
  await once(door, 'close');
}

/** Ctrl-C reaches us twice under npm, from it and from the terminal: the second must not cut the stop short. */
export function stopAsked(): Promise<void> {
  return new Promise((resolve) => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, () => resolve());
  });
}
