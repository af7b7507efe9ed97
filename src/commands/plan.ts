import { readFile, writeFile } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { afterSeconds } from '../domain/routing/budget.js';
import type { Plan, SearchProgress } from '../domain/routing/plan.js';
import type { RoutingProblem } from '../domain/routing/problem.js';
import { solve } from '../domain/routing/solve.js';
import { RoutingFileFault } from '../files/routingFileFault.js';
import { parseRoutingProblem } from '../files/routingProblem.js';

export const USAGE = 'usage: npm run plan -- --problem FILE --out FILE [--seconds 10] [--seed 1]';

/** Plans one problem file; answers the exit code: 0 planned, 1 refused, 2 not all that must be served is. */
export async function planCommand(args: string[]): Promise<number> {
  try {
    const wanted = readArgs(args);
    const problem = await readProblem(wanted.problem);
    const startedAt = performance.now();
    const plan = solve(problem, {
      seed: wanted.seed,
      stop: afterSeconds(wanted.seconds, () => performance.now()),
      onProgress: showProgress(),
    });
    const seconds = Math.round((performance.now() - startedAt) / 10) / 100;
    const missed = missedOf(problem, plan);
    const written = { ...answer(plan, missed), seconds, seed: wanted.seed };
    await writeFile(wanted.out, `${JSON.stringify(written, null, 1)}\n`).catch((error) => {
      throw new Refusal(`cannot write ${wanted.out}: ${(error as Error).message}`);
    });
    console.log(summary(plan, seconds, wanted.out, missed));
    return missed === 0 ? 0 : 2;
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    console.error(error.message);
    return 1;
  }
}

class Refusal extends Error {}

function readArgs(args: string[]) {
  let values: { problem?: string; out?: string; seconds: string; seed: string };
  try {
    ({ values } = parseArgs({
      args,
      options: {
        problem: { type: 'string' },
        out: { type: 'string' },
        seconds: { type: 'string', default: '10' },
        seed: { type: 'string', default: '1' },
      },
    }));
  } catch (error) {
    throw new Refusal(`${(error as Error).message}\n${USAGE}`);
  }
  const { problem, out } = values;
  if (!problem || !out) throw new Refusal(`${problem ? '--out' : '--problem'} is missing\n${USAGE}`);
  const seconds = Number(values.seconds);
  if (!(seconds > 0 && seconds <= 86_400)) {
    throw new Refusal(`--seconds ${values.seconds}: should be a number above 0, at most 86400`);
  }
  const seed = Number(values.seed);
  if (!Number.isSafeInteger(seed) || seed < 0)
    throw new Refusal(`--seed ${values.seed}: should be a whole number from 0`);
  return { problem, out, seconds, seed };
}

async function readProblem(file: string): Promise<RoutingProblem> {
  const text = await readFile(file, 'utf8').catch((error) => {
    throw new Refusal(`cannot read ${file}: ${(error as Error).message}`);
  });
  try {
    return parseRoutingProblem(text);
  } catch (error) {
    if (error instanceof RoutingFileFault) throw new Refusal(`${file}: ${error.message}`);
    throw error;
  }
}

/** A line that renews itself on a terminal, else one line every ten seconds. */
function showProgress(): (progress: SearchProgress) => void {
  const terminal = process.stderr.isTTY === true;
  let shownAt = performance.now();
  return ({ iteration, share, bestCost, unplaced }) => {
    const now = performance.now();
    if (now - shownAt < (terminal ? 200 : 10_000)) return;
    shownAt = now;
    const line = `${Math.round(share * 100)} %  cost ${bestCost}  unplaced ${unplaced}  iterations ${iteration}`;
    process.stderr.write(terminal ? `\r${line.padEnd(78)}${share >= 1 ? '\n' : ''}` : `${line}\n`);
  };
}

/** How many orders that must be served are not: without them a plan's cost says nothing. */
function missedOf({ orders }: RoutingProblem, { unplaced }: Plan): number {
  const must = new Set(orders.flatMap(({ id, unplacedCost }) => (unplacedCost === null ? [id] : [])));
  return unplaced.filter(({ orderId }) => must.has(orderId)).length;
}

function answer(plan: Plan, missed: number) {
  return {
    objective: missed === 0 ? plan.cost.total : null,
    feasible: missed === 0,
    iterations: plan.iterations,
    routes: plan.routes.map((route) => ({
      crew: route.crewId,
      jobs: route.stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : [])),
    })),
    unplaced: plan.unplaced.map(({ orderId, text }) => ({ job: orderId, reason: text })),
  };
}

function summary(plan: Plan, seconds: number, out: string, missed: number): string {
  const visits = plan.routes.reduce(
    (sum, route) => sum + route.stops.filter((stop) => stop.kind === 'visit').length,
    0,
  );
  const left = plan.unplaced.length > 0 ? `, ${plan.unplaced.length} left out` : '';
  const worth =
    missed === 0
      ? `objective ${plan.cost.total}`
      : `NOT FEASIBLE: ${missed} of those left out must be served`;
  return `${visits} stops on ${plan.routes.length} routes${left}; ${worth} after ${seconds} s and ${plan.iterations} iterations; written to ${out}`;
}
