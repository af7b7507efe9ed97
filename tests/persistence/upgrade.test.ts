import { pino } from 'pino';
import { expect, onTestFinished, test } from 'vitest';
import { createKey } from '../../src/actions/createKey.js';
import { runNight } from '../../src/actions/night/runNight.js';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import { buildApp } from '../../src/http/app.js';
import { migrateJobs } from '../../src/jobs/worker.js';
import { makeHouse } from '../../src/persistence/house.js';
import { migrate } from '../../src/persistence/migrate.js';
import { openPool } from '../../src/persistence/pool.js';
import {
  CLIENT,
  LINE,
  layFirstBooks,
  MIGRATIONS,
  missingOf,
  ORDER,
  RELEASES,
  SITE,
} from '../setup/firstBooks.js';
import { emptyDatabase } from '../setup/testDatabase.js';

test('books of the first release come up to this one, row by row, and are worked on', async () => {
  const pool = openPool(await emptyDatabase());
  onTestFinished(() => pool.end());
  await layFirstBooks(pool);
  // A release at a time, as who never skips one would come.
  for (const name of RELEASES.slice(1))
    expect(await migrate(pool, MIGRATIONS, { upTo: name })).toEqual([name]);

  expect(await missingOf(pool)).toEqual([]);
  await migrateJobs(pool, pino({ level: 'silent' }));
  const house = makeHouse(pool, {
    clock: { now: () => new Date('2026-10-01T12:00:00Z') },
    zone: businessZone('America/Chicago'),
    units: 'metric',
    currency: 'USD',
    version: 'test',
  });
  await runNight(house, {
    businessDay: '2026-10-01',
    askedBy: 'test',
    holder: 'test',
    routeSeconds: 1,
    routeIterations: 50,
  });
  const { key } = await house.transact({ name: 'test' }, (stores) =>
    createKey(stores, { name: 'owner', roles: ['owner'], memberId: null, expiresAt: null }),
  );
  const app = await buildApp(house, { requestsPerMinute: 0, checkAnswers: true });
  const get = async (url: string) => {
    const answer = await app.inject({ url, headers: { authorization: `Bearer ${key}` } });
    expect(answer.statusCode, `${url} ${answer.body}`).toBe(200);
    return answer.json();
  };
  expect(await get(`/v1/clients/${CLIENT}`)).toMatchObject({ name: 'A. Sedge', phone: '555 0100' });
  expect((await get(`/v1/lines/${LINE}`)).mainBore).toMatchObject({ value: 75 });
  expect((await get(`/v1/inspections?lineId=${LINE}`)).items).toHaveLength(3);
  expect((await get(`/v1/lines/${LINE}/trend`)).trend.readingsUsed).toBe(3);
  // What the night thinks of its tasks is the night's; the order is the one that was there.
  expect(await get(`/v1/work-orders/${ORDER}`)).toMatchObject({ id: ORDER, siteId: SITE, number: 1 });
  await app.close();
}, 180_000);
