import { mkdtemp, readFile, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test, vi } from 'vitest';
import { planCommand } from '../../src/commands/plan.js';

afterEach(() => vi.restoreAllMocks());

/** One crew with a camera; the second job needs a jetter that nobody has. */
const problem = {
  format: 'day-plan/1',
  equipmentTypes: ['jetter', 'camera'],
  locations: [
    { lat: 52, lon: -1 },
    { lat: 52.1, lon: -1 },
  ],
  crews: [{ id: 'C1', yard: 0, shift: [25200, 54000], equipment: [1] }],
  jobs: [
    { id: 'J1', location: 1, service: 1800, window: null, needs: [1], penalty: 5000 },
    { id: 'J2', location: 1, service: 1800, window: null, needs: [0], penalty: 300 },
  ],
  seconds: [
    [0, 700],
    [710, 0],
  ],
};

async function run(content: string, ...more: string[]) {
  const folder = await mkdtemp(join(tmpdir(), 'plan-'));
  const file = join(folder, 'problem.json');
  const out = join(folder, 'plan.json');
  await writeFile(file, content);
  const said: string[] = [];
  vi.spyOn(console, 'log').mockImplementation((line) => said.push(line));
  vi.spyOn(console, 'error').mockImplementation((line) => said.push(line));
  const code = await planCommand(['--problem', file, '--out', out, ...more]);
  return { code, said: said.join('\n'), out };
}

test('writes routes, what was left out and why, and the objective', async () => {
  const { code, out } = await run(JSON.stringify(problem), '--seconds', '0.05', '--seed', '3');
  expect(code).toBe(0);
  const plan = JSON.parse(await readFile(out, 'utf8'));
  // 700 there, 710 back, 300 for the job left out.
  expect(plan).toMatchObject({
    objective: 1710,
    feasible: true,
    seed: 3,
    routes: [{ crew: 'C1', jobs: ['J1'] }],
  });
  expect(plan.unplaced).toEqual([{ job: 'J2', reason: 'no crew with a jetter on this day' }]);
});

test('a plan that leaves out what must be served is not feasible, and no objective is told', async () => {
  const row = (...numbers: number[]) => numbers.join(' ');
  // One vehicle of 10: the two customers take 8 each.
  const solomon = [
    'TWO FOR ONE',
    'VEHICLE',
    'NUMBER CAPACITY',
    row(1, 10),
    'CUSTOMER',
    row(0, 0, 0, 0, 0, 1000, 0),
    row(1, 3, 4, 8, 0, 1000, 10),
    row(2, 4, 3, 8, 0, 1000, 10),
  ].join('\n');
  const { code, said, out } = await run(solomon, '--seconds', '0.05');
  expect(code).toBe(2);
  expect(said).toContain('NOT FEASIBLE: 1 of those left out must be served');
  expect(JSON.parse(await readFile(out, 'utf8'))).toMatchObject({ objective: null, feasible: false });
});

test('refuses in words what it cannot use', async () => {
  expect(await run('{', '--seconds', '1')).toMatchObject({
    code: 1,
    said: expect.stringContaining('not JSON'),
  });
  expect(await run('{}', '--seconds', '0')).toMatchObject({
    code: 1,
    said: expect.stringContaining('--seconds 0'),
  });
  expect(await run('{}', '--seed', 'x')).toMatchObject({
    code: 1,
    said: expect.stringContaining('--seed x'),
  });
  expect(await run('{}', '--speed', '9')).toMatchObject({
    code: 1,
    said: expect.stringContaining('--speed'),
  });
  expect(await planCommand(['--out', 'x'])).toBe(1);
  expect(await planCommand(['--problem', '/nowhere/at/all', '--out', 'x'])).toBe(1);
});
