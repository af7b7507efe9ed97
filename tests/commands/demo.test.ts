import { randomUUID } from 'node:crypto';
import { expect, test, vi } from 'vitest';
import { demoCommand } from '../../src/commands/demo.js';
import { readConfig } from '../../src/config.js';
import { testDatabase } from '../setup/testDatabase.js';

test('the invented business does not move in where houses are on record', async () => {
  const db = await testDatabase();
  await db.pool.query(
    `INSERT INTO site (id, address, town, area) VALUES ($1, '1 Marsh Gate', 'Brindle', 'Brindle')`,
    [randomUUID()],
  );
  const told = vi.spyOn(console, 'error').mockReturnValue();
  expect(await demoCommand(['--once'], readConfig({ DATABASE_URL: db.url, LOG_LEVEL: 'silent' }))).toBe(2);
  expect(told.mock.calls.join()).toMatch(/wants a database without sites/);
  const { rows } = await db.pool.query('SELECT count(*)::int AS n FROM site');
  expect(rows[0].n).toBe(1);
});
