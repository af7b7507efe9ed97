import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer, Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test, vi } from 'vitest';
import { createKey } from '../../src/actions/createKey.js';
import { serveCommand } from '../../src/commands/serve.js';
import { type Config, readConfig } from '../../src/config.js';
import { openHouse, serve } from '../../src/main.js';
import { type TestDatabase, testDatabase } from '../setup/testDatabase.js';

const configOf = ({ url }: Pick<TestDatabase, 'url'>, other: Record<string, string> = {}): Config =>
  readConfig({
    DATABASE_URL: url,
    HOST: '127.0.0.1',
    PORT: '0',
    LOG_LEVEL: 'silent',
    NIGHT: 'off',
    ...other,
  });

test('a port in use ends the service with the reason, and closes its house', async () => {
  const db = await testDatabase();
  const taken = createServer().listen(0, '127.0.0.1');
  await once(taken, 'listening');
  const address = taken.address();
  const port = typeof address === 'object' && address !== null ? address.port : 0;
  const config = configOf(db, { PORT: String(port) });
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
  const config = configOf(db);
  const open = await openHouse(config);
  const listening = vi.spyOn(Server.prototype, 'listen');
  await open.close(); // as when the database goes away in this very moment
  await expect(serve(config, open)).rejects.toThrow();
  expect(listening).not.toHaveBeenCalled();
  listening.mockRestore();
});

test('metrics tell of the process itself: its disks, its connections, what it is at work on', async () => {
  const db = await testDatabase();
  const folder = mkdtempSync(join(tmpdir(), 'openbore-metrics-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const config = configOf(db, { OPENBORE_FILES: join(folder, 'files') });
  const open = await openHouse(config);
  const { key } = await open.house.transact({ name: 'test' }, (stores) =>
    createKey(stores, { name: 'scraper', roles: ['monitor'], memberId: null, expiresAt: null }),
  );
  const running = await serve(config, open);
  const answer = await fetch(`${running.url}/metrics`, { headers: { authorization: `Bearer ${key}` } });
  const text = await answer.text();
  await running.stop();
  await open.close();
  expect(Number(/^openbore_disk_free_bytes\{of="files"\} (\S+)$/m.exec(text)?.[1])).toBeGreaterThan(0);
  // The database's disk is another's here.
  expect(text).not.toContain('of="database"');
  for (const name of [
    'connections_max{pool="requests"} 16',
    'connections_max{pool="work"} 14',
    'connection_timeouts_total{pool="requests"} 0',
    'heartbeats_lost_total 0',
    'jobs_worked_on{job="night"} 0',
    'jobs_worked_on{job="what_if"} 0',
  ])
    expect(text).toContain(`\nopenbore_${name}\n`);
}, 60_000);

test('what stops without its database still ends all it opened', async () => {
  const db = await testDatabase();
  const config = configOf(db);
  const open = await openHouse(config);
  const running = await serve(config, open);
  vi.spyOn(open.pool, 'query').mockImplementation((() => Promise.reject(new Error('gone'))) as never);
  await running.stop();
  await open.close();
  await expect(fetch(`${running.url}/health`)).rejects.toThrow();
  const { rows } = await db.pool.query(
    `SELECT count(*)::int AS n FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`,
  );
  expect(rows[0].n).toBe(0);
});
