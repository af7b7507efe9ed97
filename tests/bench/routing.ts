/**
 * Gaps of the route planner on benchmark instances:
 * `routing.js [folder] [--seconds 2,10] [--seeds 1,2] [--only R1] [--clock cpu]`.
 * With `--clock cpu` a second is a second of this process's own time, for machines with other work on them.
 * The folder (default `../shared/data/routing`) holds Solomon files, `best-known.csv` and `day-*.json`.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { afterSeconds } from '../../src/domain/routing/budget.js';
import { check } from '../../src/domain/routing/check.js';
import { solve } from '../../src/domain/routing/solve.js';
import { parseRoutingProblem } from '../../src/files/routingProblem.js';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    seconds: { type: 'string', default: '2,10' },
    seeds: { type: 'string', default: '1' },
    only: { type: 'string', default: '' },
    clock: { type: 'string', default: 'wall' },
  },
});
const folder = positionals[0] ?? '../shared/data/routing';
const secondsList = values.seconds.split(',').map(Number);
const seeds = values.seeds.split(',').map(Number);

const nowMs = () => (values.clock === 'cpu' ? process.cpuUsage().user / 1000 : performance.now());

/** A fixed amount of integer work: its time tells how fast this machine is right now. */
function calibrationMs(): number {
  const table = new Int32Array(1 << 16).map((_, i) => Math.imul(i, 0x9e3779b1));
  const startedAt = performance.now();
  let sum = 0;
  for (let i = 0; i < 100_000_000; i++) sum = (sum + table[(sum ^ i) & 0xffff]!) | 0;
  return performance.now() - startedAt + (sum === 0.5 ? 1 : 0);
}

/** Best known values under the DIMACS convention, in tenths. */
function bestKnown(): Map<string, number> {
  const [header, ...rows] = readFileSync(join(folder, 'best-known.csv'), 'utf8').trim().split('\n');
  const column = header!.split(',').indexOf('distance_only_BKS_dimacs');
  return new Map(rows.map((row) => [row.split(',')[0]!, Math.round(Number(row.split(',')[column]) * 10)]));
}

const known = bestKnown();
const files = readdirSync(folder)
  .filter((file) => /\.(txt|json)$/.test(file) && file.includes(values.only))
  .sort();
console.log(`calibration loop: ${calibrationMs().toFixed(0)} ms`);

for (const seconds of secondsList) {
  const gaps: number[] = [];
  for (const file of files) {
    const problem = parseRoutingProblem(readFileSync(join(folder, file), 'utf8'));
    const name = file.replace(/\.\w+$/, '');
    const costs: number[] = [];
    let iterations = 0;
    for (const seed of seeds) {
      const plan = solve(problem, { seed, stop: afterSeconds(seconds, nowMs) });
      const faults = check(problem, plan);
      if (faults.length > 0) throw new Error(`${name}: ${faults.join('; ')}`);
      costs.push(plan.unplaced.length > 0 && known.has(name) ? Infinity : plan.cost.total);
      iterations += plan.iterations / seeds.length;
    }
    const mean = costs.reduce((sum, cost) => sum + cost, 0) / costs.length;
    const best = known.get(name);
    const gap = best === undefined ? null : ((mean - best) / best) * 100;
    if (gap !== null) gaps.push(gap);
    const shown = gap === null ? '' : `gap ${gap.toFixed(2)} %`;
    console.log(
      `${String(seconds).padStart(3)} s  ${name.padEnd(12)} ${mean.toFixed(0).padStart(9)}  ${shown.padEnd(12)} ${iterations.toFixed(0)} iterations`,
    );
  }
  if (gaps.length > 0) {
    const mean = gaps.reduce((sum, gap) => sum + gap, 0) / gaps.length;
    console.log(`${seconds} s: mean gap ${mean.toFixed(3)} %, worst ${Math.max(...gaps).toFixed(2)} %`);
  }
}
console.log(`calibration loop: ${calibrationMs().toFixed(0)} ms`);
