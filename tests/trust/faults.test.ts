import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { beforeAll, expect, test } from 'vitest';
import { breakAndJudge } from '../faults/breaking.js';

// A few of the kills of `npm run faults`, on the built service and a durable database.

const root = join(import.meta.dirname, '../..');

beforeAll(() => {
  const { status } = spawnSync(process.execPath, [join(root, 'src/build.mjs'), '--when-stale'], {
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  expect(status).toBe(0);
}, 600_000);

const few = (control: boolean) =>
  breakAndJudge({
    root,
    kills: 4,
    seconds: 300,
    writers: 4,
    seed: 3,
    least: 10,
    most: 20,
    round: 4,
    only: 'both killed',
    control,
    disk: 0,
    keep: false,
    say: () => undefined,
    isCut: () => false,
  });

test('what was acknowledged is on record, once and whole, after kills of service and database', async () => {
  const { kills, ledger, verdict, constraints, red } = await few(false);
  expect({ verdict, constraints, strange: ledger.strange }).toEqual({
    verdict: { lost: [], doubled: [], halfWritten: [], stuck: [] },
    constraints: 'yes',
    strange: [],
  });
  expect(red).toBe(false);
  expect(kills).toBeGreaterThanOrEqual(2);
  expect(ledger.acknowledged).toBeGreaterThan(20);
}, 900_000);

test('a door that acknowledges before it knows loses writes, and the same checks find them', async () => {
  const { verdict, red } = await few(true);
  expect(verdict.lost.length).toBeGreaterThan(0);
  expect(red).toBe(true);
}, 900_000);
