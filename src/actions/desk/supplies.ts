import type { UnitSystem } from '../../domain/units/quantity.js';
import type { KitKind, TaskKind } from '../../domain/words.js';
import type { CrewDayFacts } from '../../domain/work/crewDayFacts.js';
import { type OnBoardThing, onBoard, type SuppliedVisit, waterUnchecked } from '../../domain/work/onBoard.js';
import { waterUncheckedText } from '../../papers/onBoardText.js';
import type { Said } from '../plans/planTools.js';
import type { Row } from '../ports.js';
import { hinderedText, stopHindrances } from './hinderedVisits.js';

/** The crew was there that day, and does not go again. */
export const wasTried = (stop: Row): boolean => stop['live'] !== true && stop['tried'] === true;

/** What a route's crew must have on board, what can no longer be done, and what nobody checked. */
export function suppliesOf(route: Row, units: UnitSystem): { onBoard: OnBoardThing[]; warnings: Said[] } {
  const crew = route['crew_day'] as CrewDayFacts;
  const visits = (route['stops'] as Row[]).flatMap((stop) =>
    stop['work_order_id'] === null || isOver(stop) ? [] : [suppliedVisit(stop)],
  );
  return {
    onBoard: onBoard(crew, visits),
    warnings: [...cannotBeDone(route), ...tankWarning(crew.crewName, waterUnchecked(crew, visits), units)],
  };
}

const cannotBeDone = (route: Row): Said[] =>
  (route['stops'] as Row[]).flatMap((stop) => {
    const reasons = stopHindrances(route, stop);
    if (reasons.length === 0) return [];
    return {
      code: 'cannot_be_done',
      facts: { workOrderId: stop['work_order_id'], codes: reasons.map(({ code }) => code) },
      text: hinderedText(stop['number'], stop['address'], reasons),
    };
  });

const isOver = (stop: Row): boolean =>
  stop['order_state'] === 'done' || stop['order_state'] === 'withdrawn' || wasTried(stop);

const suppliedVisit = (stop: Row) => ({
  workOrderId: String(stop['work_order_id']),
  number: Number(stop['number']),
  kit: (stop['kit'] ?? []) as KitKind[],
  tasks: (stop['tasks'] as Row[]).map((task) => task['kind'] as TaskKind),
  tap: stop['tap'] as SuppliedVisit['tap'],
  minutes: Number(stop['minutes']),
  waterL: Number(stop['water_l']),
  sludgeL: Number(stop['sludge_l']),
});

/** No tap, and nobody wrote down how much the crew can bring. */
export function tankWarning(
  crewName: string,
  visits: readonly { workOrderId: string; number: number; waterL: number }[],
  units: UnitSystem,
): Said[] {
  if (visits.length === 0) return [];
  const waterL = visits.reduce((sum, visit) => sum + visit.waterL, 0);
  return [
    {
      code: 'tank_not_recorded',
      facts: { workOrderIds: visits.map(({ workOrderId }) => workOrderId), waterL },
      text: waterUncheckedText(crewName, visits, units),
    },
  ];
}
