import type { CameBack, FlowProven, PlugCause, TaskKind } from '../../domain/words.js';
import type { LadderLine } from '../../domain/work/ladder.js';
import type { LineHistory, Tried } from '../../domain/work/lineStops.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

const number = (value: unknown): number | null => (value === null ? null : Number(value));
const ms = (row: Row): number => Date.parse(String(row['at']));

/** What a line was through, as the rules on stops and rungs read it. */
export async function lineHistory(stores: Stores, line: Row): Promise<LineHistory> {
  const { tried, hardStops, cameras } = await stores.workLife.lineHistory(String(line['id']));
  return {
    lengthM: number(line['length_m']),
    hardStops: hardStops.map((row) => ({ atMs: ms(row), atM: number(row['stopped_m']) })),
    camerasMs: cameras.map(ms),
    tried: tried.map(triedOf),
  };
}

/** A line as the ladder sees it: what plugs it now, what was tried, whether a dig of it is on its way. */
export async function ladderLine(stores: Stores, line: Row): Promise<LadderLine> {
  const plugged = await stores.workLife.pluggedNow(String(line['id']));
  const digs = await stores.rows.count('work_order_task', [
    { column: 'line_id', is: '=', value: line['id'] },
    { column: 'kind', is: '=', value: 'dig_and_replace' },
    { column: 'open', is: '=', value: true },
  ]);
  return {
    ...(await lineHistory(stores, line)),
    plugged:
      plugged === null
        ? null
        : { cause: plugged['cause'] as PlugCause, sinceMs: Date.parse(String(plugged['since'])) },
    slotsBlocked: line['slots_blocked'] === true,
    digOrdered: digs > 0,
  };
}

const triedOf = (row: Row): Tried => ({
  task: row['task'] as TaskKind,
  atMs: ms(row),
  flowProven: row['flow_proven'] as FlowProven | null,
  cameBack: row['came_back'] as CameBack | null,
  residue: number(row['residue']),
  nozzleStoppedM: number(row['nozzle_stopped_m']),
});
