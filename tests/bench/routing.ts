/**
 * What the route planner is worth, each plan through the independent checker:
 * `routing.js [folder] [--parts files,large,kinds,sizes] [--seconds 2,10] [--seeds 1,2] [--only R1] [--clock cpu]`.
 *
 * files: Solomon's instances with their gaps, and real-shaped days, from the folder (default `../shared/data/routing`:
 * Solomon files, `best-known.csv`, `day-*.json`; left out where there is none). large: 200 customers. kinds: crews of
 * different kit, depots, prizes, several days. sizes: first plan, re-planning, 1,000 orders.
 * With `--clock cpu` a second is a second of this process's own time, for machines with other work on them.
 */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { afterSeconds } from '../../src/domain/routing/budget.js';
import type { RoutingProblem } from '../../src/domain/routing/problem.js';
import { parseRoutingProblem } from '../../src/files/routingProblem.js';
import { type BenchAsk, checked } from './routing/checked.js';
import { benchKinds } from './routing/kinds.js';
import { benchSizes } from './routing/sizes.js';
import { CLASSES, twoHundred } from './routing/twoHundred.js';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    parts: { type: 'string', default: 'files,large,kinds,sizes' },
    seconds: { type: 'string', default: '2,10' },
    seeds: { type: 'string', default: '1' },
    only: { type: 'string', default: '' },
    clock: { type: 'string', default: 'wall' },
  },
});
const folder = positionals[0] ?? '../shared/data/routing';
const parts = values.parts.split(',');
const ask: BenchAsk = {
  seconds: values.seconds.split(',').map(Number),
  seeds: values.seeds.split(',').map(Number),
  nowMs: () => (values.clock === 'cpu' ? process.cpuUsage().user / 1000 : performance.now()),
  only: values.only,
};

/** A fixed amount of integer work: its time tells how fast this machine is right now. */
function calibrationMs(): number {
  const table = new Int32Array(1 << 16).map((_, i) => Math.imul(i, 0x9e3779b1));
  const startedAt = ask.nowMs();
  let sum = 0;
  for (let i = 0; i < 100_000_000; i++) sum = (sum + table[(sum ^ i) & 0xffff]!) | 0;
  return ask.nowMs() - startedAt + (sum === 0.5 ? 1 : 0);
}

interface Instance {
  name: string;
  problem: RoutingProblem;
  /** Best known cost in the problem's own units; null: none. */
  best: number | null;
  /** Whether every order must be served. */
  all: boolean;
}

/** Best known values under the DIMACS convention, in tenths. */
function bestKnown(): Map<string, number> {
  const [header, ...rows] = readFileSync(join(folder, 'best-known.csv'), 'utf8').trim().split('\n');
  const column = header!.split(',').indexOf('distance_only_BKS_dimacs');
  return new Map(rows.map((row) => [row.split(',')[0]!, Math.round(Number(row.split(',')[column]) * 10)]));
}

function fromFiles(): Instance[] {
  if (!existsSync(folder)) {
    console.log(`no instances: there is no folder ${folder}`);
    return [];
  }
  const known = bestKnown();
  return readdirSync(folder)
    .filter((file) => /\.(txt|json)$/.test(file))
    .sort()
    .map((file) => {
      const name = file.replace(/\.\w+$/, '');
      const problem = parseRoutingProblem(readFileSync(join(folder, file), 'utf8'));
      return { name, problem, best: known.get(name) ?? null, all: known.has(name) };
    });
}

const generated = (): Instance[] =>
  CLASSES.map((kind) => ({
    name: `${kind}-200`,
    problem: parseRoutingProblem(twoHundred(kind, 1)),
    best: null,
    all: true,
  }));

/** Mean cost and iterations of an instance over the seeds. */
function measured(
  { name, problem, all }: Instance,
  seconds: number,
): { cost: number; iterations: number; least: number } {
  const plans = ask.seeds.map((seed) =>
    checked(name, problem, { seed, stop: afterSeconds(seconds, ask.nowMs) }),
  );
  const costs = plans.map((plan) => (all && plan.unplaced.length > 0 ? Infinity : plan.cost.total));
  const mean = (of: readonly number[]) => of.reduce((sum, each) => sum + each, 0) / of.length;
  return {
    cost: mean(costs),
    iterations: mean(plans.map(({ iterations }) => iterations)),
    least: Math.min(...costs),
  };
}

/** A line per instance and number of seconds; the gap is against the best known, else the best seen here. */
function table(title: string, instances: readonly Instance[]): void {
  const chosen = instances.filter(({ name }) => name.includes(ask.only));
  if (chosen.length === 0) return;
  console.log(`\n${title}`);
  console.log('instance      orders  seconds       cost  gap        iterations');
  const gaps = new Map<number, number[]>();
  for (const instance of chosen) {
    const runs = ask.seconds.map((seconds) => ({ seconds, ...measured(instance, seconds) }));
    const best = instance.best ?? Math.min(...runs.map(({ least }) => least));
    for (const { seconds, cost, iterations } of runs) {
      const gap = ((cost - best) / best) * 100;
      gaps.set(seconds, [...(gaps.get(seconds) ?? []), gap]);
      console.log(
        `${instance.name.padEnd(13)} ${String(instance.problem.orders.length).padStart(6)} ${String(seconds).padStart(8)} ` +
          `${cost.toFixed(0).padStart(10)}  ${`${gap.toFixed(2)} %`.padEnd(10)} ${iterations.toFixed(0)}`,
      );
    }
  }
  for (const [seconds, of] of gaps)
    console.log(
      `${seconds} s: mean gap ${(of.reduce((sum, gap) => sum + gap, 0) / of.length).toFixed(3)} %, worst ${Math.max(...of).toFixed(2)} %`,
    );
}

console.log(`calibration loop: ${calibrationMs().toFixed(0)} ms`);
if (parts.includes('files')) {
  const instances = fromFiles();
  table(
    'Solomon, distance (DIMACS convention), gap to the best known',
    instances.filter(({ all }) => all),
  );
  table(
    'Real-shaped days, gap to the best seen here',
    instances.filter(({ all }) => !all),
  );
}
if (parts.includes('large'))
  table(
    '200 customers, generated in the style of Gehring and Homberger, gap to the best seen here',
    generated(),
  );
if (parts.includes('kinds')) benchKinds(ask);
if (parts.includes('sizes')) benchSizes();
console.log(`\ncalibration loop: ${calibrationMs().toFixed(0)} ms`);
