import type { Break, CrewDay, Order } from './problem.js';
import { joinSpans, NEVER, type Span } from './windows.js';

export function serviceOn(order: Order, crewDay: CrewDay): number {
  return order.serviceSecondsByCrew?.[crewDay.crewId] ?? order.serviceSeconds;
}

export function placeCostOn(order: Order, crewDay: CrewDay): number {
  return (order.waitingCost[crewDay.day] ?? 0) + moveCostOn(order, crewDay);
}

export function moveCostOn({ accepted }: Order, crewDay: CrewDay): number {
  if (!accepted) return 0;
  if (accepted.day !== crewDay.day) return accepted.otherDayCost;
  return accepted.crewId === crewDay.crewId ? 0 : accepted.otherCrewCost;
}

export function unplacedCostOf(order: Order): number {
  return (order.unplacedCost ?? 0) + (order.accepted?.otherDayCost ?? 0);
}

/** When work on the order may start on a day, its locked hour included. */
export function spansOn(order: Order, day: number): Span[] {
  if (order.lock?.day !== undefined && order.lock.day !== day) return [];
  const lockFrom = order.lock?.fromSeconds ?? 0;
  const lockTo = order.lock?.toSeconds ?? NEVER;
  const windows = order.windows.length > 0 ? order.windows : [{ fromSeconds: 0, toSeconds: NEVER }];
  const open = windows.filter((window) => window.day === undefined || window.day === day);
  return joinSpans(
    open.map((w) => ({ from: Math.max(w.fromSeconds, lockFrom), to: Math.min(w.toSeconds, lockTo, NEVER) })),
  );
}

/** Breaks still to be taken: of a crew under way, those that can still begin. */
export function breaksAhead(crewDay: CrewDay): readonly Break[] {
  const now = crewDay.underWay?.freeAtSeconds ?? crewDay.shiftStartSeconds;
  return crewDay.breaks.filter((rest) => rest.latestStartSeconds >= now);
}
