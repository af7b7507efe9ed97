import type { TaskKind } from '../../domain/words.js';
import { type Caution, type CautionFacts, cautionsOf, tellsOfFlood } from '../../domain/work/cautions.js';
import { standingStop } from '../../domain/work/lineStops.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/**
 * What a visit's cautions follow from, wherever they are shown.
 *
 * @param visit Tasks, reasons, and what its place adds or leaves out (`no_pump`, `enterable_pit`, `sanitary_tie`,
 *   `hand_dig_mm`, `hard_stops`, `silent_utilities`).
 */
export function cautionBasis(visit: Row): { tasks: TaskKind[]; facts: CautionFacts } {
  return {
    tasks: (visit['tasks'] as Row[]).map((task) => task['kind'] as TaskKind),
    facts: {
      floodedBasement: tellsOfFlood((visit['because_of'] ?? []) as { code: string }[]),
      noPump: visit['no_pump'] === true,
      enterablePit: visit['enterable_pit'] === true,
      sanitaryTie: visit['sanitary_tie'] === true,
      silentUtilities: (visit['silent_utilities'] ?? []) as string[],
      handDigMm: visit['hand_dig_mm'] == null ? null : Number(visit['hand_dig_mm']),
      hardStops: ((visit['hard_stops'] ?? []) as HardStopRow[]).filter(stands),
    },
  };
}

interface HardStopRow {
  line: string;
  metAt: string;
  stoppedM: number | null;
  /** Last look by camera into the line. */
  lookedAt: string | null;
}

const stands = ({ metAt, stoppedM, lookedAt }: HardStopRow): boolean =>
  standingStop({
    lengthM: null,
    hardStops: [{ atMs: Date.parse(metAt), atM: stoppedM }],
    camerasMs: lookedAt === null ? [] : [Date.parse(lookedAt)],
    tried: [],
  }) !== null;

export function visitCautions(visit: Row): Caution[] {
  const { tasks, facts } = cautionBasis(visit);
  return cautionsOf(tasks, facts);
}

/** Cautions of an order: the same as those of its stop. */
export async function orderCautions(stores: Stores, order: Row): Promise<Caution[]> {
  return visitCautions({ ...order, ...(await stores.workLife.cautionPlace(String(order['id']))) });
}
