import { EventEmitter, once } from 'node:events';
import { beforeAll, beforeEach, expect, test } from 'vitest';
import { inTransaction } from '../../src/persistence/transaction.js';
import { type TestDatabase, testDatabase } from '../setup/testDatabase.js';

let db: TestDatabase;
const asAnn = { actor: 'ann' };

beforeAll(async () => {
  db = await testDatabase();
  await db.pool.query(
    'CREATE TABLE tank (name text PRIMARY KEY, litres integer NOT NULL CHECK (litres >= 0))',
  );
});

beforeEach(async () => {
  await db.pool.query('TRUNCATE tank');
  await db.pool.query(`INSERT INTO tank VALUES ('left', 100), ('right', 100)`);
});

async function litres(): Promise<number[]> {
  const { rows } = await db.pool.query('SELECT litres FROM tank ORDER BY name');
  return rows.map((row) => Number(row['litres']));
}

const pour = (name: string, change: number) => ({
  text: 'UPDATE tank SET litres = litres + $2 WHERE name = $1',
  values: [name, change],
});

test('all of it is kept', async () => {
  const answer = await inTransaction(db.pool, asAnn, async (tx) => {
    await tx.query(pour('left', -40));
    await tx.query(pour('right', 40));
    return 'poured';
  });
  expect(answer).toBe('poured');
  expect(await litres()).toEqual([60, 140]);
});

test('or nothing, when the work throws or a constraint refuses', async () => {
  const ours = inTransaction(db.pool, asAnn, async (tx) => {
    await tx.query(pour('left', -40));
    throw new Error('spilled');
  });
  await expect(ours).rejects.toThrow('spilled');
  const its = inTransaction(db.pool, asAnn, async (tx) => {
    await tx.query(pour('right', 140));
    await tx.query(pour('left', -140)); // 100 − 140 < 0
  });
  await expect(its).rejects.toThrow('tank_litres_check');
  expect(await litres()).toEqual([100, 100]);
});

test('work that passes over a failed statement is not reported as kept', async () => {
  const careless = inTransaction(db.pool, asAnn, async (tx) => {
    await tx.query(pour('right', 140));
    await tx.query(pour('left', -140)).catch(() => undefined);
  });
  await expect(careless).rejects.toThrow('nothing was kept');
  expect(await litres()).toEqual([100, 100]);
});

test('actor and time-outs hold inside, and no longer on the connection afterwards', async () => {
  const settings = `SELECT current_setting('app.actor', true) AS actor, current_setting('lock_timeout') AS lock,
    current_setting('statement_timeout') AS statement, pg_backend_pid() AS pid`;
  const options = { actor: 'ann', lockTimeoutMs: 700, statementTimeoutMs: 900 };
  const inside = await inTransaction(db.pool, options, async (tx) => (await tx.query(settings)).rows[0]);
  expect(inside).toMatchObject({ actor: 'ann', lock: '700ms', statement: '900ms' });
  const after = (await db.pool.query(settings)).rows[0];
  expect(after).toEqual({ actor: '', lock: '10s', statement: '1min', pid: inside['pid'] });
});

test('waiting for a lock ends at the lock time-out', async () => {
  await inTransaction(db.pool, asAnn, async (tx) => {
    await tx.query(pour('left', 1));
    const second = inTransaction(db.pool, { ...asAnn, lockTimeoutMs: 50 }, (other) =>
      other.query(pour('left', 1)),
    );
    await expect(second).rejects.toMatchObject({ code: '55P03' });
  });
  expect(await litres()).toEqual([101, 100]);
});

/** Two works that lock left and right in opposite order, each waiting until the other has its first. */
async function deadlock(retries: number): Promise<PromiseSettledResult<number>[]> {
  const locks = new EventEmitter();
  const locked = { left: once(locks, 'left'), right: once(locks, 'right') };
  const work = (first: 'left' | 'right', second: 'left' | 'right') => {
    let tries = 0;
    return inTransaction(db.pool, { ...asAnn, retries }, async (tx) => {
      tries++;
      await tx.query(pour(first, 1));
      locks.emit(first);
      await locked[second];
      await tx.query(pour(second, 1));
      return tries;
    });
  };
  return Promise.allSettled([work('left', 'right'), work('right', 'left')]);
}

test('a deadlock is refused, unless the work may be done again', async () => {
  const alone = await deadlock(0);
  expect(alone.map(({ status }) => status).sort()).toEqual(['fulfilled', 'rejected']);
  expect(await litres()).toEqual([101, 101]);

  const again = await deadlock(1);
  const tries = again.map((result) => (result.status === 'fulfilled' ? result.value : 0));
  expect(tries.sort()).toEqual([1, 2]);
  expect(await litres()).toEqual([103, 103]);
});

test('a refusal is never tried again', async () => {
  let tries = 0;
  const refused = inTransaction(db.pool, { ...asAnn, retries: 5 }, async (tx) => {
    tries++;
    await tx.query(pour('left', -140));
  });
  await expect(refused).rejects.toThrow('tank_litres_check');
  expect(tries).toBe(1);
});

test('a connection lost in the middle rejects, harms nobody else, and is not lent again', async () => {
  let lost = 0;
  const cut = inTransaction(db.pool, asAnn, async (tx) => {
    const { rows } = await tx.query('SELECT pg_backend_pid() AS pid');
    lost = Number(rows[0]['pid']);
    await tx.query(pour('left', -40));
    const gone = once(tx, 'error');
    await db.pool.query('SELECT pg_terminate_backend($1)', [lost]);
    await gone;
    await tx.query(pour('right', 40));
  });
  await expect(cut).rejects.toThrow(/not queryable|terminat/);
  expect(await litres()).toEqual([100, 100]);
  const { rows } = await db.pool.query('SELECT pg_backend_pid() AS pid');
  expect(rows[0]['pid']).not.toBe(lost);
});
