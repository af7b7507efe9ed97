import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance, InjectOptions } from 'fastify';
import { pino } from 'pino';
import { afterAll } from 'vitest';
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
import { type TestDatabase, testDatabase } from './testDatabase.js';

/** Answers are looked into freely by tests: a missing member fails the expectation. */
// biome-ignore lint/suspicious/noExplicitAny: tests look into JSON answers of many shapes
export type Json = any;

export interface TestHouse extends TestDatabase {
  /** Where its files are kept. */
  folder: string;
  house: House;
  app: FastifyInstance;
  /** Bearer texts by role. */
  keys: Record<Role, string>;
  call(
    role: Role | null,
    options: InjectOptions & { url: string },
  ): Promise<{ status: number; body: Json; headers: Record<string, unknown>; text: string }>;
  clock: { at: Date };
  /** Works on the jobs that wait now. */
  work(): Promise<void>;
}

/** The whole service on a test file's own database, with one key a role and a clock that stands. */
export async function testHouse(now = '2026-10-01T12:00:00Z'): Promise<TestHouse> {
  const db = await testDatabase();
  const clock = { at: new Date(now) };
  const folder = mkdtempSync(join(tmpdir(), 'openbore-files-'));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));
  const house = makeHouse(db.pool, {
    clock: { now: () => clock.at },
    zone: businessZone('America/Chicago'),
    units: 'metric',
    currency: 'USD',
    version: '0.0.0-test',
    files: { store: folderStore(folder), eyes: fileEyes, turns: turns() },
  });
  const app = await buildApp(house, { checkAnswers: true, requestsPerMinute: 0 });
  await app.ready();
  const keys = {} as Record<Role, string>;
  for (const role of ROLES) {
    const made = await house.transact({ name: 'test' }, (stores) =>
      createKey(stores, { name: role, roles: [role], memberId: null, expiresAt: null }),
    );
    keys[role] = made.key;
  }
  return {
    ...db,
    folder,
    house,
    app,
    keys,
    clock,
    work: () =>
      workOnce(
        db.pool,
        {
          what_if: whatIfJob({ house, log: pino({ level: 'silent' }) }),
          plan: planJob({ house, log: pino({ level: 'silent' }), tools: plainTools }, 300),
          night: async ({ businessDay, askedBy }) => {
            await runNight(house, {
              businessDay: String(businessDay),
              askedBy: String(askedBy),
              holder: 'test',
              routeSeconds: 1,
              routeIterations: 300,
            });
          },
        },
        pino({ level: 'silent' }),
      ),
    async call(role, options) {
      const headers = { ...(role ? { authorization: `Bearer ${keys[role]}` } : {}), ...options.headers };
      const answer = await app.inject({ ...options, headers });
      const isJson = String(answer.headers['content-type'] ?? '').includes('json');
      return {
        status: answer.statusCode,
        body: isJson && answer.body ? answer.json() : null,
        headers: answer.headers,
        text: answer.body,
      };
    },
  };
}
