import { once } from 'node:events';
import { createServer } from 'node:net';
import { expect, test } from 'vitest';
import { serveCommand } from '../../src/commands/serve.js';
import { readConfig } from '../../src/config.js';
import { testDatabase } from '../setup/testDatabase.js';

test('a port in use ends the service with the reason, and closes its house', async () => {
  const db = await testDatabase();
  const taken = createServer().listen(0, '127.0.0.1');
  await once(taken, 'listening');
  const address = taken.address();
  const port = typeof address === 'object' && address !== null ? address.port : 0;
  const config = readConfig({
    DATABASE_URL: db.url,
    HOST: '127.0.0.1',
    PORT: String(port),
    LOG_LEVEL: 'silent',
    NIGHT: 'off',
  });
  await expect(serveCommand(config)).rejects.toThrow(/EADDRINUSE/);
  taken.close();
  // Its connections are gone with it.
  const { rows } = await db.pool.query(
    `SELECT count(*)::int AS n FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`,
  );
  expect(rows[0].n).toBe(0);
});
