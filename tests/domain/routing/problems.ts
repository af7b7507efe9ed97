import type { CrewDay, Order, RoutingProblem } from '../../../src/domain/routing/problem.js';

/** Points on a grid; a second and a metre per unit of |dx| + |dy|. */
export function gridProblem(
  points: readonly (readonly [number, number])[],
  crewDays: readonly CrewDay[],
  orders: readonly Order[],
  rest: Partial<RoutingProblem> = {},
): RoutingProblem {
  const size = points.length;
  const seconds = new Int32Array(size * size);
  points.forEach(([ax, ay], a) => {
    points.forEach(([bx, by], b) => {
      seconds[a * size + b] = Math.abs(ax - bx) + Math.abs(ay - by);
    });
  });
  return {
    days: ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday'],
    travel: { size, seconds, metres: seconds },
    crewDays,
    orders,
    sharedKit: [],
    refillSites: [],
    costs: { drivingPerHour: 3600, drivingPerKm: 0 },
    ...rest,
  };
}

/** A crew at location 0, on Monday from 0 to 1000 seconds, unless said otherwise. */
export function crewDay(id: string, rest: Partial<CrewDay> = {}): CrewDay {
  return {
    id,
    crewId: id,
    day: 0,
    startLocation: 0,
    endLocation: 0,
    shiftStartSeconds: 0,
    shiftEndSeconds: 1000,
    overtimeSeconds: 0,
    overtimePerHour: 0,
    breaks: [],
    kit: [],
    people: 2,
    tankLitres: null,
    wasteLitres: null,
    useCost: 0,
    ...rest,
  };
}

/** Ten seconds of work at a location, any time, dear to leave out, unless said otherwise. */
export function order(id: string, location: number, rest: Partial<Order> = {}): Order {
  return {
    id,
    location,
    serviceSeconds: 10,
    windows: [],
    needs: [],
    people: 1,
    waterLitres: 0,
    wasteLitres: 0,
    waitingCost: [],
    unplacedCost: 100_000,
    follows: [],
    ...rest,
  };
}
