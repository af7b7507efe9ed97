import { once } from 'node:events';
import { createServer, Server } from 'node:net';
import { expect, test, vi } from 'vitest';
import { serveCommand } from '../../src/commands/serve.js';
import { readConfig } from '../../src/config.js';
import { openHouse, serve } from '../../src/main.js';
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

test('what cannot start its jobs does not open its door', async () => {
  const db = await testDatabase();
  const config = readConfig({
    DATABASE_URL: db.url,
    HOST: '127.0.0.1',
    PORT: '0',
    LOG_LEVEL: 'silent',
    NIGHT: 'off',
  });
  const open = await openHouse(config);
  const listening = vi.spyOn(Server.prototype, 'listen');
  await open.close(); // as when the database goes away in this very moment
  await expect(serve(config, open)).rejects.toThrow();
  expect(listening).not.toHaveBeenCalled();
  listening.mockRestore();
});
