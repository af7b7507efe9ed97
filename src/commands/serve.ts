import type { Config } from '../config.js';
import { openHouse, serve } from '../main.js';

/** Serves until SIGINT or SIGTERM. */
export async function serveCommand(config: Config): Promise<number> {
  const open = await openHouse(config);
  const running = await serve(config, open).catch(async (error: unknown) => {
    // Nothing is left running behind a service that could not start, least of all its database.
    await open.close();
    throw error;
  });
  open.log.info({ url: running.url, docs: `${running.url}/docs` }, 'serving');
  await stopAsked();
  await running.stop();
  await open.close();
  open.log.info('stopped');
  return 0;
}

/** Ctrl-C reaches us twice under npm, from it and from the terminal: the second must not cut the stop short. */
export function stopAsked(): Promise<void> {
  return new Promise((resolve) => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, () => resolve());
  });
}
