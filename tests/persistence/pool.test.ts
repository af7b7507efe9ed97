import { once } from 'node:events';
import { type AddressInfo, createServer } from 'node:net';
import { expect, onTestFinished, test } from 'vitest';
import { openPool, type PoolOptions, timeoutsOf } from '../../src/persistence/pool.js';
import { asRefusal } from '../../src/persistence/refusals.js';
import { inTransaction } from '../../src/persistence/transaction.js';
import { testDatabase } from '../setup/testDatabase.js';

async function poolOf(options: PoolOptions) {
  const { url } = await testDatabase();
  const pool = openPool(url, { connections: 1, ...options });
  onTestFinished(() => pool.end());
  return pool;
}

const AWAY = { problem: { code: 'unavailable' } };

test('a server that says nothing is given up, alone and in a transaction, and the next one is asked anew', async () => {
  const pool = await poolOf({ answerMs: 500 });
  const frozen = pool.query('SELECT pg_sleep(20)').catch(asRefusal);
  expect(await frozen).toMatchObject(AWAY);
  const begun = performance.now();
  const work = inTransaction(pool, { actor: 'test' }, async (tx) => {
    await tx.query({ text: 'SELECT pg_sleep($1)', values: [20] });
  });
  expect(await work.catch(asRefusal)).toMatchObject(AWAY);
  // Its ROLLBACK did not wait behind the statement.
  expect(performance.now() - begun).toBeLessThan(15_000);
  const { rows } = await pool.query('SELECT $1::int AS one', [1]);
  expect(rows).toEqual([{ one: 1 }]);
}, 60_000);

test('who waits too long for a connection is told, and a lock is not waited for without end', async () => {
  const pool = await poolOf({ connectMs: 300 });
  const lent = await pool.connect();
  expect(await pool.query('SELECT 1').catch(asRefusal)).toMatchObject(AWAY);
  expect(await pool.connect().catch(asRefusal)).toMatchObject(AWAY);
  expect(timeoutsOf(pool)).toBe(2);
  const { rows } = await lent.query('SHOW lock_timeout');
  expect(rows).toEqual([{ lock_timeout: '10s' }]);
  lent.release();
  await pool.query('SELECT 1');
  expect(timeoutsOf(pool)).toBe(2);
}, 60_000);

test('a server that takes a connection and never says a word is away, whoever counts the time first', async () => {
  const silent = createServer().listen(0, '127.0.0.1');
  await once(silent, 'listening');
  onTestFinished(() => {
    silent.close();
  });
  const { port } = silent.address() as AddressInfo;
  const pool = openPool(`postgresql://u:p@127.0.0.1:${port}/d`, { connections: 1, connectMs: 300 });
  expect(await pool.query('SELECT 1').catch(asRefusal)).toMatchObject(AWAY);
  expect(timeoutsOf(pool)).toBe(1);
  // The driver's own word, where its clock is the first.
  expect(asRefusal(new Error('timeout expired'))).toMatchObject(AWAY);
  // And the system's, where so many wait before the socket of one that stands still that no more may.
  const full = Object.assign(new Error('connect EAGAIN'), { code: 'EAGAIN', syscall: 'connect' });
  expect(asRefusal(full)).toMatchObject(AWAY);
  await pool.end();
}, 60_000);
