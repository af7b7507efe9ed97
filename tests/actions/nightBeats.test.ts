import { afterEach, expect, test, vi } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { runNight } from '../../src/actions/night/runNight.js';
import { testHouse } from '../setup/testHouse.js';
import { burstingHouses } from '../setup/twelveHouses.js';

const DAY = '2026-10-01';

afterEach(() => {
  vi.useRealTimers();
  vi.restoreAllMocks();
});

test.each([
  [
    'a database that says nothing: each beat but the first tells of the one before',
    () => new Promise<boolean>(() => {}),
    2,
  ],
  ['a database that refuses: each beat tells of itself', () => Promise.reject(new Error('gone')), 3],
  ['a database that answers', () => Promise.resolve(true), 0],
] as const)(
  '%s',
  async (_, beat, lost) => {
    const { house } = await testHouse(`${DAY}T07:00:00Z`);
    await importClientBase(house, { name: 'test' }, { base: burstingHouses(), source: 'book', asOf: DAY });
    vi.spyOn(house.stores.night, 'beat').mockImplementation(beat);
    vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
    const beaten = new Set<string>();
    const told: unknown[] = [];
    await runNight(house, {
      businessDay: DAY,
      askedBy: 'test',
      holder: 'test',
      routeSeconds: 1,
      routeIterations: 10,
      // Of the lease of 40 s a beat is due each 10 s: one in each step that tells how far it is.
      onProgress: (step) => {
        if (!beaten.has(step) && beaten.size < 3) vi.advanceTimersByTime(10_000);
        beaten.add(step);
      },
      onBeatLost: (error) => told.push(error),
    });
    expect(beaten.size).toBeGreaterThanOrEqual(3);
    expect(told).toHaveLength(lost);
  },
  60_000,
);
