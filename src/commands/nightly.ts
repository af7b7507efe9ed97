import { randomUUID } from 'node:crypto';
import { parseArgs } from 'node:util';
import { runNight } from '../actions/night/runNight.js';
import type { Config } from '../config.js';
import { dayNumber } from '../domain/calendar/isoDate.js';
import { openHouse, planTools } from '../main.js';
import { commandLog } from './commandLog.js';
import { progressLine } from './progress.js';

export const USAGE = 'npm run nightly -- [--day YYYY-MM-DD] [--again]';

/** Runs one night's work now and prints what each step did. */
export async function nightlyCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({
    args,
    options: { day: { type: 'string' }, again: { type: 'boolean', default: false } },
  });
  const open = await openHouse(config, { log: commandLog(), as: 'command' });
  try {
    const businessDay = values.day ?? open.house.zone.dayOf(open.house.clock.now());
    try {
      dayNumber(businessDay);
    } catch {
      console.error(`--day ${businessDay} is not a calendar day\n${USAGE}`);
      return 2;
    }
    let line = progressLine('estimate');
    let current = 'estimate';
    const runId = await runNight(open.house, {
      businessDay,
      askedBy: 'nightly command',
      holder: randomUUID(),
      again: values.again,
      routeSeconds: config.ROUTE_SECONDS,
      tools: planTools(config),
      onProgress: (step, share) => {
        if (step !== current) {
          line.end();
          line = progressLine(step);
          current = step;
        }
        line.at(share, businessDay);
      },
      onFailed: (error, what) => {
        line.end();
        console.error(`${what}: ${error instanceof Error ? error.message : String(error)}`);
      },
    });
    line.end();
    const steps = await open.house.stores.rows.all(
      'nightly_step',
      [{ column: 'run_id', is: '=', value: runId }],
      'position',
    );
    console.log(`night of ${businessDay}: run ${runId}`);
    for (const step of steps) {
      const counts = Object.entries(step['counts'] as Record<string, number>).map(
        ([what, n]) => `${what} ${n}`,
      );
      console.log(
        `  ${String(step['name']).padEnd(9)} ${Number(step['seconds'] ?? 0).toFixed(1)} s  ${counts.join(', ')}`,
      );
    }
    return 0;
  } finally {
    await open.close();
  }
}
