/**
 * Five years of a simulated base under each rule, from the same start and with the same growth:
 * `replay.js [--lines 300] [--years 5] [--seeds 1] [--processes gamma,wiener] [--rules 'ours 0.03,true base 0.03']`.
 * With `--costs FILE` each line's cost under each rule goes into a file, to compare two versions line by line.
 * Cost per line-year: a visit 1, a line that passes its threshold before the visit 25.
 */
import { writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { Random } from '../../src/domain/routing/random.js';
import { knowingBase } from './replayBelief.js';
import {
  grown,
  PROCESSES,
  type Process,
  type ReplayBase,
  type ReplayVisit,
  replayBase,
  serve,
} from './replayLines.js';
import { ours } from './replayOurs.js';
import {
  EVENT_COST,
  fixedDays,
  knowing,
  knowingCostLeast,
  LONGEST_DAYS,
  leastSquares,
  type ReplayRule,
  SHORTEST_DAYS,
  VISIT_COST,
} from './replayRules.js';

const { values } = parseArgs({
  options: {
    lines: { type: 'string', default: '300' },
    years: { type: 'string', default: '5' },
    seeds: { type: 'string', default: '1' },
    processes: { type: 'string', default: PROCESSES.join(',') },
    /** Names of rules, or how they begin; all when left out. */
    rules: { type: 'string', default: '' },
    costs: { type: 'string' },
  },
});
const named = values.rules.split(',');
const processes = PROCESSES.filter((process) => values.processes.split(',').includes(process));
const seeds = values.seeds.split(',').map(Number);
const years = Number(values.years);

const rules = (): ReplayRule[] =>
  [
    fixedDays(90),
    leastSquares(0.1, 1.2816),
    leastSquares(0.03, 1.8808),
    leastSquares(0.01, 2.3263),
    knowing(0.1),
    knowing(0.03),
    knowing(0.01),
    knowingCostLeast(),
    knowingBase(0.1),
    knowingBase(0.03),
    knowingBase(0.01),
    knowingBase('cost-least'),
    ours(0.1),
    ours(0.03),
    ours(0.01),
    ours('cost-least'),
  ].filter(({ name }) => named.some((each) => name.startsWith(each)));

/** Per line: visits and events in the years replayed. */
interface Tally {
  visits: Float64Array;
  events: Float64Array;
}

/** Runs the base year by year, so that what one line teaches in a year helps the others in the next. */
function replay(base: ReplayBase, rule: ReplayRule, seed: number): Tally {
  const { process, lines, startDay, endDay } = base;
  const visits: ReplayVisit[][] = lines.map((line) => [...line.history]);
  const occlusion = Float64Array.from(lines, (line) => line.occlusionAtStart);
  const readers = lines.map((_, i) => new Random(1_000_003 * seed + i));
  const next = new Float64Array(lines.length);
  const tally: Tally = { visits: new Float64Array(lines.length), events: new Float64Array(lines.length) };
  const ask = (i: number, day: number): void => {
    const line = lines[i]!;
    const days = rule.daysToVisit(line, i, visits[i]!, day, occlusion[i]!);
    next[i] = day + Math.round(Math.min(LONGEST_DAYS, Math.max(day === startDay ? 0 : SHORTEST_DAYS, days)));
  };
  for (let yearStart = startDay; yearStart < endDay; yearStart += 365) {
    rule.learn(base, visits, yearStart);
    lines.forEach((line, i) => {
      ask(i, yearStart);
      for (let day = yearStart; day < Math.min(endDay, yearStart + 365); day++) {
        occlusion[i] = grown(process, line, occlusion[i]!, day);
        const event = occlusion[i]! >= line.threshold;
        if (!event && day < next[i]!) continue;
        if (event) tally.events[i]!++;
        else tally.visits[i]!++;
        const served = serve(occlusion[i]!, day, event, readers[i]!);
        visits[i]!.push(served.visit);
        occlusion[i] = served.residue;
        ask(i, day);
      }
    });
  }
  return tally;
}

const sum = (values: Float64Array): number => values.reduce((total, value) => total + value, 0);

const costsOf = ({ visits, events }: Tally): Float64Array =>
  visits.map((count, i) => (VISIT_COST * count + EVENT_COST * events[i]!) / years);

function meanOf(costs: Float64Array): { mean: number; error: number } {
  const mean = sum(costs) / costs.length;
  const variance = costs.reduce((total, cost) => total + (cost - mean) ** 2, 0) / (costs.length - 1);
  return { mean, error: Math.sqrt(variance / costs.length) };
}

const table = new Map<
  string,
  { cost: number[]; error: number[]; visits: number[]; events: number[]; costs: number[]; of: string[] }
>();
for (const process of processes) {
  for (const seed of seeds) {
    const base = replayBase(process as Process, Number(values.lines), years, seed);
    for (const rule of rules()) {
      const startedAt = performance.now();
      const tally = replay(base, rule, seed);
      const costs = costsOf(tally);
      const { mean, error } = meanOf(costs);
      const lineYears = base.lines.length * years;
      const row = table.get(rule.name) ?? { cost: [], error: [], visits: [], events: [], costs: [], of: [] };
      row.of.push(process);
      row.cost.push(mean);
      row.error.push(error);
      row.visits.push(sum(tally.visits) / lineYears);
      row.events.push(sum(tally.events) / lineYears);
      row.costs.push(...costs);
      table.set(rule.name, row);
      const seconds = ((performance.now() - startedAt) / 1000).toFixed(1);
      console.log(
        `${process} seed ${seed} ${rule.name}: ${mean.toFixed(2)} ± ${error.toFixed(2)}, ${row.events.at(-1)?.toFixed(4)} events (${seconds} s)`,
      );
    }
  }
}

const mean = (values: number[]): number => values.reduce((total, value) => total + value, 0) / values.length;
console.log('\nrule, cost per line-year ± standard error, visits, events (means over the bases)');
for (const [name, { cost, error, visits, events, of }] of table) {
  const within = Math.sqrt(error.reduce((total, each) => total + each * each, 0)) / error.length;
  const together = Math.max(within, errorBetween(cost, of));
  console.log(
    `${name.padEnd(26)} ${mean(cost).toFixed(2)} ± ${together.toFixed(2)}  ${mean(visits).toFixed(2)}  ${mean(events).toFixed(4)}`,
  );
}

/** Standard error of the mean over processes, from how bases of one process differ; 0 where there is one of each. */
function errorBetween(cost: readonly number[], of: readonly string[]): number {
  const own = [...new Set(of)].map((process) => cost.filter((_, i) => of[i] === process));
  const variance = own.map((costs) => (costs.length < 2 ? 0 : meanOf(Float64Array.from(costs)).error ** 2));
  return Math.sqrt(sum(Float64Array.from(variance))) / own.length;
}

if (values.costs) {
  writeFileSync(values.costs, JSON.stringify(Object.fromEntries(table)));
}
if (values.rules === '') judge();

/** The two targets. The same lines under both rules, so the difference is told apart better than either cost. */
function judge(): void {
  const fixed = [0.1, 0.03, 0.01].map((risk) => `ours ${risk}`);
  const costsUnder = (name: string): number[] => table.get(name)?.costs ?? [];
  const cheapest = fixed.reduce((a, b) => (mean(costsUnder(b)) < mean(costsUnder(a)) ? b : a));
  const least = costsUnder('ours cost-least');
  const apart = meanOf(Float64Array.from(costsUnder(cheapest), (cost, i) => least[i]! - cost));
  const dearer = apart.mean > 2 * apart.error ? 'MISSED' : 'met';
  console.log(
    `\ncost-least over the cheapest fixed risk (${cheapest}): ${apart.mean.toFixed(2)} ± ${apart.error.toFixed(2)}; at most 2 SE dearer: ${dearer}`,
  );
  const atThree = mean(costsUnder('ours 0.03'));
  console.log(`cost at risk .03: ${atThree.toFixed(2)}; at most 3.4: ${atThree <= 3.4 ? 'met' : 'MISSED'}`);
}
