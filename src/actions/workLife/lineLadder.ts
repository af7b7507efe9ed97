import type { CameBack, FlowProven, PlugCause, TaskKind } from '../../domain/words.js';
import type { CleanTried, LadderLine } from '../../domain/work/ladder.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/** A crew may write down the clean before the plug it was for. */
const SAME_VISIT_MS = 2 * 3_600_000;

/** A line as the ladder sees it: what plugs it now, and what was tried (on that plug), newest first. */
export async function ladderLine(stores: Stores, line: Row): Promise<LadderLine> {
  const id = String(line['id']);
  const plugged = await stores.workLife.pluggedNow(id);
  const stop = await stores.workLife.hardStop(id);
  const since = plugged === null ? null : Date.parse(String(plugged['since'])) - SAME_VISIT_MS;
  const tried = (await stores.workLife.tried(id)).filter(
    (row) => since === null || Date.parse(String(row['at'])) >= since,
  );
  return {
    lengthM: line['length_m'] === null ? null : Number(line['length_m']),
    plugged: plugged === null ? null : (plugged['cause'] as PlugCause),
    slotsBlocked: line['slots_blocked'] === true,
    lookedSince: tried[0]?.['looked_since'] === true,
    hardStop: stop === null ? null : { atM: stop['stopped_m'] === null ? null : Number(stop['stopped_m']) },
    tried: tried.map(cleanOf),
  };
}

const cleanOf = (row: Row): CleanTried => ({
  task: row['task'] as TaskKind,
  flowProven: row['flow_proven'] as FlowProven | null,
  cameBack: row['came_back'] as CameBack | null,
  residue: row['residue'] === null ? null : Number(row['residue']),
  nozzleStoppedM: row['nozzle_stopped_m'] === null ? null : Number(row['nozzle_stopped_m']),
});
