import { spansOn } from './orderTerms.js';
import type { CrewDay, Order, RoutingProblem, SharedKitItem } from './problem.js';

/** Which crew-day could do which order at all, time and other orders apart; and who needs shared items. */
export function compileAbility(
  problem: RoutingProblem,
  orders: readonly Order[],
  crewDays: readonly CrewDay[],
) {
  const sharedItems = [...problem.sharedKit].sort((a, b) => (a.id < b.id ? -1 : 1));
  const sharedKinds = [...new Set(sharedItems.map((item) => item.kind))].sort();
  const K = sharedKinds.length;

  const able = new Uint8Array(orders.length * crewDays.length);
  orders.forEach((order, c) => {
    const closed = new Set(order.closedCrewDays);
    const openOn = problem.days.map((_, day) => spansOn(order, day).length > 0);
    crewDays.forEach((crewDay, v) => {
      const can = openOn[crewDay.day]! && obstacle(order, crewDay, sharedItems, closed) === null;
      able[c * crewDays.length + v] = can ? 1 : 0;
    });
  });

  const needsShared = new Uint8Array(orders.length * K);
  orders.forEach((order, c) => {
    sharedKinds.forEach((kind, k) => {
      needsShared[c * K + k] = order.needs.includes(kind) ? 1 : 0;
    });
  });
  const ownsShared = new Uint8Array(crewDays.length * K);
  crewDays.forEach((crewDay, v) => {
    sharedKinds.forEach((kind, k) => {
      ownsShared[v * K + k] = crewDay.kit.includes(kind) ? 1 : 0;
    });
  });
  return { able, sharedItems, sharedKinds, needsShared, ownsShared };
}

export type Obstacle =
  | { code: 'crew_not_allowed' }
  | { code: 'no_people'; people: number }
  | { code: 'no_kit'; kind: string }
  | { code: 'tank_too_small'; litres: number }
  | { code: 'closed_season' };

/** The first thing that keeps a crew-day from an order whatever the hour; null when nothing does. */
export function obstacle(
  order: Order,
  crewDay: CrewDay,
  sharedItems: readonly SharedKitItem[],
  closed: ReadonlySet<string> = new Set(order.closedCrewDays),
): Obstacle | null {
  if (order.lock?.crewId !== undefined && order.lock.crewId !== crewDay.crewId)
    return { code: 'crew_not_allowed' };
  if (order.onlyCrews && !order.onlyCrews.includes(crewDay.crewId)) return { code: 'crew_not_allowed' };
  const missing = order.needs.find((kind) => !hasKind(kind, crewDay, sharedItems));
  if (missing !== undefined) return { code: 'no_kit', kind: missing };
  if (crewDay.people < order.people) return { code: 'no_people', people: order.people };
  if (order.waterLitres > (crewDay.tankLitres ?? Infinity)) {
    return { code: 'tank_too_small', litres: order.waterLitres };
  }
  if (order.wasteLitres > (crewDay.wasteLitres ?? Infinity)) {
    return { code: 'tank_too_small', litres: order.wasteLitres };
  }
  if (closed.has(crewDay.id)) return { code: 'closed_season' };
  return null;
}

function hasKind(kind: string, crewDay: CrewDay, sharedItems: readonly SharedKitItem[]): boolean {
  return (
    crewDay.kit.includes(kind) || sharedItems.some((item) => item.kind === kind && mayTake(item, crewDay))
  );
}

export function mayTake(item: SharedKitItem, crewDay: CrewDay): boolean {
  return (item.crews?.includes(crewDay.crewId) ?? true) && (item.days?.includes(crewDay.day) ?? true);
}
