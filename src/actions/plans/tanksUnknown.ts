import type { Plan } from '../../domain/routing/plan.js';
import { tankWarning } from '../desk/supplies.js';
import type { House } from '../house.js';
import type { Said } from './planTools.js';
import type { Question } from './problem.js';

/** Planned visits to houses without a tap by crews whose tank nobody wrote down: to the search it never runs dry. */
export function tanksUnknown(house: House, { books, problem }: Question, plan: Plan): Said[] {
  const unknown = new Set(
    problem.crewDays.filter(({ tankLitres }) => tankLitres === null).map(({ crewId }) => crewId),
  );
  const dry = new Map(
    books.orders
      .filter((row) => row['tap'] === 'no' && Number(row['water_l']) > 0)
      .map((row) => [
        String(row['id']),
        {
          workOrderId: String(row['id']),
          number: Number(row['number']),
          waterL: Number(row['water_l']),
        },
      ]),
  );
  const crews = [...new Set(plan.routes.map(({ crewId }) => crewId))].filter((crewId) => unknown.has(crewId));
  return crews.flatMap((crewId) => {
    const visits = plan.routes
      .filter((route) => route.crewId === crewId)
      .flatMap(({ stops }) =>
        stops.flatMap((stop) => (stop.kind === 'visit' ? (dry.get(stop.orderId) ?? []) : [])),
      );
    const crew = books.crews.find((row) => row['id'] === crewId);
    return tankWarning(String(crew?.['name']), visits, house.units);
  });
}
