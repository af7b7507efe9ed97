import type { FastifyInstance } from 'fastify';
import type pg from 'pg';
import { pino } from 'pino';
import { createKey } from '../../src/actions/createKey.js';
import { turns } from '../../src/actions/files/turns.js';
import type { House } from '../../src/actions/house.js';
import { runNight } from '../../src/actions/night/runNight.js';
import { plainTools } from '../../src/actions/plans/plainTools.js';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import { ROLES, type Role } from '../../src/domain/words.js';
import { buildApp } from '../../src/http/app.js';
import { planJob } from '../../src/jobs/plans.js';
import { whatIfJob } from '../../src/jobs/whatIfs.js';
import { workOnce } from '../../src/jobs/worker.js';
import { fileEyes } from '../../src/outside/fileEyes.js';
import { folderStore } from '../../src/outside/folderStore.js';
import { makeHouse } from '../../src/persistence/house.js';
import { Chance } from './chance.js';
import { Door } from './door.js';
import { type Firm, layFirm, layPlace, type Place, readLine } from './ground.js';

/** Thursday afternoon: a route of the day is under way. */
export const NOW = new Date('2026-10-01T20:00:00Z');
const MORNING = new Date('2026-10-01T11:00:00Z');
const TODAY = '2026-10-01';
const SEARCH_ITERATIONS = 200;

/** A working business behind the whole service, for requests of every kind. */
export interface FuzzHouse {
  house: House;
  pool: pg.Pool;
  app: FastifyInstance;
  door: Door;
  firm: Firm;
  places: Place[];
  clock: { at: Date };
  /** What the service logged of faults of its own, last first. */
  faults: string[];
  /** Does the searches and simulations that wait; a night is done apart. */
  work(): Promise<void>;
}

/** Questions of the year ahead drawn so large that one takes longer than a thousand requests. */
const GIVE_UP_LONG_QUESTIONS = `
  UPDATE what_if SET state = 'failed', failed_because = 'too long to wait for'
   WHERE state = 'waiting' AND (runs > 16 OR weeks > 52 OR (asked -> 'newSites' ->> 'perWeek')::float8 > 5)`;

export async function fuzzHouse(
  pool: pg.Pool,
  folder: string,
  seed: number,
  houses: number,
): Promise<FuzzHouse> {
  const clock = { at: MORNING };
  const house = makeHouse(pool, {
    clock: { now: () => clock.at },
    zone: businessZone('America/Chicago'),
    units: 'metric',
    currency: 'USD',
    version: 'fuzz',
    files: { store: folderStore(folder), eyes: fileEyes, turns: turns() },
  });
  const faults: string[] = [];
  const stream = { write: (line: string) => void faults.unshift(line.slice(0, 1500)) };
  const app = await buildApp(house, { requestsPerMinute: 0, logger: { level: 'error', stream } });
  await app.ready();
  const keys = {} as Record<Role, string>;
  for (const role of ROLES) keys[role] = await keyOf(house, role, null);
  const door = new Door(app, keys);
  const chance = new Chance(seed);
  const firm = await layFirm(door);
  keys.technician = await keyOf(house, 'technician', firm.memberIds[0] ?? null);
  const places: Place[] = [];
  for (let n = 0; n < houses; n++) {
    const place = await layPlace(door, chance);
    await readLine(door, place, chance);
    places.push(place);
  }
  await runNight(house, {
    businessDay: TODAY,
    askedBy: 'fuzz',
    holder: 'fuzz',
    routeSeconds: 1,
    routeIterations: SEARCH_ITERATIONS,
  });
  clock.at = NOW;
  const log = pino({ level: 'silent' });
  return {
    house,
    pool,
    app,
    door,
    firm,
    places,
    clock,
    faults,
    work: async () => {
      await pool.query(GIVE_UP_LONG_QUESTIONS);
      await workOnce(
        pool,
        {
          plan: planJob({ house, log, tools: plainTools }, SEARCH_ITERATIONS),
          what_if: whatIfJob({ house, log }),
          night: async ({ businessDay, askedBy }) => {
            await runNight(house, {
              businessDay: String(businessDay),
              askedBy: String(askedBy),
              holder: 'fuzz',
              routeSeconds: 1,
              routeIterations: SEARCH_ITERATIONS,
            });
          },
        },
        log,
      );
    },
  };
}

async function keyOf(house: House, role: Role, memberId: string | null): Promise<string> {
  const made = await house.transact({ name: 'fuzz' }, (stores) =>
    createKey(stores, { name: role, roles: [role], memberId, expiresAt: null }),
  );
  return made.key;
}
