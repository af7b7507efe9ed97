import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { beforeAll, expect, test } from 'vitest';
import type { RouteSearch } from '../../src/actions/plans/planTools.js';
import { afterIterations } from '../../src/domain/routing/budget.js';
import { check } from '../../src/domain/routing/check.js';
import { solve } from '../../src/domain/routing/solve.js';
import { crewDay, gridProblem, order } from '../domain/routing/problems.js';

const root = join(import.meta.dirname, '../..');
let threadedSearch: (threads: number) => RouteSearch;

// Threads run compiled files only.
beforeAll(async () => {
  const { status, stderr } = spawnSync(process.execPath, ['src/build.mjs', '--when-stale'], { cwd: root });
  if (status !== 0) throw new Error(String(stderr));
  ({ threadedSearch } = await import(pathToFileURL(join(root, 'dist/jobs/routeThreads.js')).href));
}, 300_000);

const scattered = Array.from({ length: 41 }, (_, i) => [(i * 37) % 101, (i * 53) % 97] as const);
const problem = gridProblem(
  scattered,
  [crewDay('a'), crewDay('b')],
  scattered.slice(1).map((_, i) => order(`o${i}`, i + 1)),
);

test('one thread finds what this thread finds; more are never worse', async () => {
  const ask = { problem, seed: 1, seconds: 60, iterations: 400 };
  const here = solve(problem, { seed: 1, stop: afterIterations(400) });
  expect(await threadedSearch(1)(ask, {})).toEqual(here);
  const best = await threadedSearch(3)(ask, {});
  expect(check(problem, best)).toEqual([]);
  expect(best.cost.total).toBeLessThanOrEqual(here.cost.total);
});

test('the thread that starts from live routes is never worse than they are', async () => {
  const good = solve(problem, { seed: 5, stop: afterIterations(2000) });
  const start = good.routes.map((route) => ({
    crewDayId: route.crewDayId,
    orderIds: route.stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : [])),
  }));
  const again = await threadedSearch(2)({ problem, seed: 1, seconds: 60, iterations: 32, start }, {});
  expect(again.cost.total).toBeLessThanOrEqual(good.cost.total);
});

test('cancelled, it ends at once with the best it has, and tells its progress until then', async () => {
  const cancel = new AbortController();
  const shares: number[] = [];
  const startedAt = performance.now();
  const plan = await threadedSearch(2)(
    { problem, seed: 1, seconds: 120 },
    {
      signal: cancel.signal,
      onProgress: ({ share }) => {
        shares.push(share);
        if (shares.length === 3) cancel.abort();
      },
    },
  );
  expect(performance.now() - startedAt).toBeLessThan(30_000);
  expect(shares.length).toBeGreaterThanOrEqual(3);
  expect(check(problem, plan)).toEqual([]);
  expect(plan.iterations).toBeGreaterThan(0);
});

test('when one thread dies the others end too', async () => {
  const startedAt = performance.now();
  const before = process.getActiveResourcesInfo().filter((kind) => kind === 'MessagePort').length;
  // Only the first thread is given the start, which is none.
  const broken = { problem, seed: 1, seconds: 120, start: 5 as never };
  await expect(threadedSearch(2)(broken, {})).rejects.toThrow();
  for (;;) {
    const open = process.getActiveResourcesInfo().filter((kind) => kind === 'MessagePort').length;
    if (open <= before) break;
    if (performance.now() - startedAt > 60_000) throw new Error('a thread goes on searching');
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}, 90_000);
