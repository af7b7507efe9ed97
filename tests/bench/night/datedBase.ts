import { join } from 'node:path';
import type pg from 'pg';
import { createKey } from '../../../src/actions/createKey.js';
import type { House } from '../../../src/actions/house.js';
import { date, estimate } from '../../../src/actions/night/estimateAndDate.js';
import { businessZone } from '../../../src/domain/calendar/businessZone.js';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import type { Role } from '../../../src/domain/words.js';
import { settingsWith } from '../../../src/domain/work/settings.js';
import { makeHouse } from '../../../src/persistence/house.js';
import { migrate } from '../../../src/persistence/migrate.js';
import { fillLargeBase } from './largeBase.js';

/** An empty database made a large base on that day, its lines estimated and dated, with a key for one role. */
export async function datedBase(
  pool: pg.Pool,
  ask: { lines: number; readings: number; day: string; role: Role },
): Promise<{ house: House; key: string }> {
  const { day } = ask;
  await migrate(pool, join(import.meta.dirname, '../../../../../prisma/migrations'));
  await fillLargeBase(pool, {
    lines: ask.lines,
    readingsPerLine: ask.readings,
    asOfDay: dayNumber(day),
    seed: 1,
  });
  const house = makeHouse(pool, {
    clock: { now: () => new Date(`${day}T12:00:00Z`) },
    zone: businessZone('America/Chicago'),
    units: 'metric',
    currency: 'USD',
    version: 'bench',
  });
  const { key } = await house.transact({ name: 'bench' }, async (stores) => {
    await estimate(house, stores, day, () => {});
    await date(house, stores, day, settingsWith({}), () => {});
    return createKey(stores, { name: 'bench', roles: [ask.role], memberId: null, expiresAt: null });
  });
  await pool.query('VACUUM ANALYZE');
  return { house, key };
}
