// Runs work on a server where databases may be created: DATABASE_URL, else a temporary embedded one.
import { importSource } from './importSource.mjs';

/** @param work Gets a function from a database's name to its connection string. */
export async function withServer(work) {
  const given = process.env['DATABASE_URL'];
  if (given) return work((database) => Object.assign(new URL(given), { pathname: `/${database}` }).href);
  const { startEmbedded } = await importSource('persistence/embeddedPostgres.ts');
  const server = await startEmbedded({ durable: false });
  try {
    return await work(server.url);
  } finally {
    await server.stop();
  }
}
