import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type FuzzHouse, fuzzHouse } from '../fuzz/fuzzHouse.js';
import { walk } from '../fuzz/walk.js';
import { testDatabase } from '../setup/testDatabase.js';

// A seeded share of `npm run fuzz`: each operation a few times, right, nearly right and hostile.

const EACH = 1;
let t: FuzzHouse;
beforeAll(async () => {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-fuzz-'));
  const { pool } = await testDatabase();
  t = await fuzzHouse(pool, folder, 7, 3);
  afterAll(async () => {
    await t.app.close();
    rmSync(folder, { recursive: true, force: true });
  });
});

test('whatever is sent: no 5xx, no answer off the published document, nothing left by a refusal', async () => {
  const operations = Object.values(
    (await t.door.as('owner', 'GET', '/docs/json')).body.paths as object,
  ).flatMap((methods) => Object.keys(methods as object)).length;
  const { broken, offSchema, touched, tallies } = await walk(t, { seed: 7, count: EACH * operations });
  expect(broken).toEqual([]);
  expect(offSchema).toEqual([]);
  expect(touched).toEqual([]);
  const all = Object.values(tallies);
  const accepted = all.reduce((sum, tally) => sum + tally.accepted, 0);
  expect(all.length).toBeGreaterThan(300);
  expect(accepted / (EACH * operations)).toBeGreaterThan(0.5);
}, 900_000);
