import { chmodSync, existsSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import { writeBookFiles } from './bookFiles.js';
import { noiseText, spreadText } from './machine/noise.js';
import { type Cost, costOf } from './machine/processTree.js';

// What a user waits for, by the commands a user types, each time on a database made for it: a base imported and its
// first night done (at most 20 s), and an import of 100,000 readings (at most a minute and 1 GiB, database included).
//
//   node tests/bench/run.mjs sizes --base FOLDER --times 3 --readings 100000

const { values } = parseArgs({
  options: {
    base: { type: 'string', default: '../shared/data/fouling/dev_a' },
    times: { type: 'string', default: '3' },
    readings: { type: 'string', default: '100000' },
  },
});
const times = Number(values.times);
const cli = resolve('dist/cli.js');
const work = mkdtempSync(join(tmpdir(), 'openbore-bench-'));
chmodSync(work, 0o755); // as root the database runs as another user

try {
  console.log(noiseText());
  await firstNight();
  await largeImport(Number(values.readings));
  console.log(noiseText());
} finally {
  rmSync(work, { recursive: true, force: true });
}

async function firstNight(): Promise<void> {
  let base = values.base;
  if (!existsSync(join(base, 'readings.csv'))) {
    base = mkdtempSync(join(work, 'base-'));
    await writeBookFiles(base, { lines: 900, readings: 4_500, untilMs: Date.now() });
  }
  const costs = await repeated(async (run) => {
    const bringing = await run('import', '--dir', base);
    return [bringing, await run('nightly')];
  });
  const last = costs.at(-1) ?? [];
  for (const { output } of last) console.log(output.trimEnd());
  const name = base === values.base ? base : 'an invented base of 900 lines';
  say(`${name} imported and first night`, costs, 20);
}

async function largeImport(readings: number): Promise<void> {
  const base = mkdtempSync(join(work, 'large-'));
  await writeBookFiles(base, { lines: Math.ceil(readings / 10), readings, untilMs: Date.now() });
  const costs = await repeated(async (run) => [await run('import', '--dir', base)]);
  console.log(costs.at(-1)?.[0]?.output.trimEnd());
  say(`${readings} readings imported`, costs, 60, 1024);
}

type Run = (...args: string[]) => Promise<Cost>;

/** Each time with an empty database folder. */
async function repeated(measured: (run: Run) => Promise<Cost[]>): Promise<Cost[][]> {
  const costs: Cost[][] = [];
  for (let i = 0; i < times; i++) {
    const data = join(work, `data-${i}`);
    mkdirSync(data);
    const { DATABASE_URL: _, ...env } = process.env;
    const run: Run = (...args) =>
      costOf(process.execPath, [cli, ...args], { env: { ...env, OPENBORE_DATA: data, LOG_LEVEL: 'warn' } });
    costs.push(await measured(run));
    rmSync(data, { recursive: true, force: true });
  }
  return costs;
}

function say(what: string, costs: readonly Cost[][], mostSeconds: number, mostMib?: number): void {
  const sums = costs.map((parts) => parts.reduce((sum, { seconds }) => sum + seconds, 0));
  const highest = (of: (cost: Cost) => number | null) =>
    costs.map((parts) => Math.max(...parts.map((cost) => of(cost) ?? Number.NaN)));
  const own = costs.map((parts) => parts.reduce((sum, { ownSeconds }) => sum + (ownSeconds ?? 0), 0));
  const tree = highest(({ treeMib }) => treeMib);
  const seconds = `${spreadText(sums, 's')}, target ${mostSeconds} s`;
  const memory = `peak with database ${spreadText(tree, 'MiB', 0)}${mostMib ? `, target ${mostMib} MiB` : ''}`;
  console.log(
    `${what}: ${seconds}; own processor time ${spreadText(own, 's')}; ${memory}; own peak ${spreadText(
      highest(({ ownMib }) => ownMib),
      'MiB',
      0,
    )}`,
  );
}
