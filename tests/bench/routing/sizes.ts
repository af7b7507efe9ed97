/**
 * Time and memory of the route planner on generated horizons with everything in them (windows, kit, lunch,
 * waiting cost by day, overtime, tanks): first usable plan, re-planning, and the largest horizon.
 */
import { afterIterations, afterSeconds } from '../../../src/domain/routing/budget.js';
import { cheapestPlaces } from '../../../src/domain/routing/cheapestPlaces.js';
import { check } from '../../../src/domain/routing/check.js';
import type { Plan, StartRoutes } from '../../../src/domain/routing/plan.js';
import type { CrewDay, Order, RoutingProblem } from '../../../src/domain/routing/problem.js';
import { Random } from '../../../src/domain/routing/random.js';
import { type SolveOptions, solve } from '../../../src/domain/routing/solve.js';

const KINDS = ['jetter', 'camera', 'vacuum', 'tracer'];
const HOUR = 3600;

/** Towns on 60 × 60 km at 50 km/h, great-circle × 1.3 flattened to a plane. */
function horizon(orderCount: number, crewCount: number, dayCount: number, seed: number): RoutingProblem {
  const random = new Random(seed);
  const towns = Array.from({ length: 8 }, () => [random.unit() * 60_000, random.unit() * 60_000] as const);
  const scatter = () => {
    const [x, y] = towns[random.below(towns.length)]!;
    return [x + (random.unit() - 0.5) * 9000, y + (random.unit() - 0.5) * 9000] as const;
  };
  const yardCount = 3;
  const points = Array.from({ length: yardCount + orderCount }, scatter);
  const size = points.length;
  const metres = new Int32Array(size * size);
  const seconds = new Int32Array(size * size);
  points.forEach(([ax, ay], a) => {
    points.forEach(([bx, by], b) => {
      metres[a * size + b] = Math.round(1.3 * Math.hypot(ax - bx, ay - by));
      seconds[a * size + b] = Math.ceil((metres[a * size + b]! * 3.6) / 50);
    });
  });
  const crewDays: CrewDay[] = [];
  for (let k = 0; k < crewCount; k++) {
    const kit = KINDS.filter((_, i) => i === 0 || random.unit() < 0.6);
    for (let day = 0; day < dayCount; day++) {
      crewDays.push({
        id: `crew ${k} day ${day}`,
        crewId: `crew ${k}`,
        day,
        startLocation: k % yardCount,
        endLocation: k % yardCount,
        shiftStartSeconds: 7 * HOUR,
        shiftEndSeconds: 15 * HOUR,
        overtimeSeconds: HOUR,
        overtimePerHour: 6000,
        breaks: [{ earliestStartSeconds: 11 * HOUR, latestStartSeconds: 13 * HOUR, seconds: 1800 }],
        kit,
        people: 2,
        tankLitres: 2000,
        wasteLitres: 1500,
        useCost: 2000,
      });
    }
  }
  const orders: Order[] = Array.from({ length: orderCount }, (_, i) => {
    const urgency = 200 + random.below(4000);
    const from = (8 + random.below(5)) * HOUR;
    return {
      id: `order ${i}`,
      location: yardCount + i,
      serviceSeconds: 900 * (1 + random.below(5)),
      windows: random.unit() < 0.3 ? [{ fromSeconds: from, toSeconds: from + 3 * HOUR }] : [],
      needs: random.unit() < 0.5 ? [KINDS[random.below(KINDS.length)]!] : [],
      people: 1 + random.below(2),
      waterLitres: random.below(3) * 200,
      wasteLitres: random.below(3) * 100,
      waitingCost: Array.from({ length: dayCount }, (__, day) => day * urgency),
      unplacedCost: 10_000 + dayCount * urgency,
      follows: [],
    };
  });
  return {
    days: Array.from({ length: dayCount }, (_, day) => `day ${day + 1}`),
    travel: { size, seconds, metres },
    crewDays,
    orders,
    sharedKit: [],
    refillSites: [0, 1, 2].map((location) => ({
      id: `yard ${location}`,
      location,
      seconds: 900,
      givesWater: true,
      takesWaste: true,
    })),
    costs: { drivingPerHour: 4000, drivingPerKm: 40 },
  };
}

function timed(name: string, problem: RoutingProblem, options: SolveOptions): Plan {
  const startedAt = performance.now();
  const cpuBefore = process.cpuUsage();
  // Progress is told first when nothing left out could still be put in; the reasons are written at the end.
  let plannedMs = 0;
  const onProgress = () => {
    plannedMs ||= performance.now() - startedAt;
  };
  const plan = solve(problem, { ...options, onProgress });
  const ms = performance.now() - startedAt;
  const cpuMs = process.cpuUsage(cpuBefore).user / 1000;
  const faults = check(problem, plan);
  if (faults.length > 0) throw new Error(`${name}: ${faults.join('; ')}`);
  const memory = Math.round(process.memoryUsage().rss / 2 ** 20);
  console.log(
    `${name.padEnd(42)} ${ms.toFixed(0).padStart(6)} ms (${cpuMs.toFixed(0)} of its own; first plan at ${plannedMs.toFixed(0)})  cost ${plan.cost.total}  unplaced ${plan.unplaced.length}  ` +
      `${plan.iterations} iterations  rss ${memory} MiB`,
  );
  return plan;
}

const asStart = (plan: Plan): StartRoutes =>
  plan.routes.map((route) => ({
    crewDayId: route.crewDayId,
    orderIds: route.stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : [])),
  }));
const now = () => performance.now();

/** First plan, re-planning, and the largest horizon: by the clock, since that is what people wait for. */
export function benchSizes(): void {
  console.log('\nTime and memory');
  const wide = horizon(400, 25, 1, 1);
  timed('25 crews, 400 orders: first usable plan', wide, { seed: 1, stop: afterIterations(0) });
  timed('25 crews, 400 orders: 10 s', wide, { seed: 1, stop: afterSeconds(10, now) });

  const day = horizon(200, 20, 1, 2);
  const accepted = timed('20 crews, 200 orders: 5 s', day, { seed: 1, stop: afterSeconds(5, now) });
  const lost = { ...day, crewDays: day.crewDays.slice(1) };
  const repaired = timed('one crew lost: repaired only', lost, {
    seed: 1,
    stop: afterIterations(0),
    start: asStart(accepted),
  });
  const again = timed('one crew lost: re-planned', lost, {
    seed: 1,
    stop: afterSeconds(0.8, now),
    start: asStart(accepted),
  });
  if (again.cost.total > repaired.cost.total) throw new Error('re-planning made it worse');

  const emergency = 'order 7';
  const before = asStart(accepted).map(({ crewDayId, orderIds }) => ({
    crewDayId,
    orderIds: orderIds.filter((id) => id !== emergency),
  }));
  const startedAt = performance.now();
  const { places } = cheapestPlaces(day, before, emergency, 3);
  console.log(
    `an emergency among 200 stops: ${places.length} cheapest places in ${(performance.now() - startedAt).toFixed(0)} ms, ` +
      `at ${places.map(({ extraCost }) => extraCost).join(', ')}`,
  );
  const urgent = {
    ...day,
    orders: day.orders.map((order) => (order.id === emergency ? { ...order, unplacedCost: null } : order)),
  };
  const inserted = timed('an emergency: repaired only', urgent, {
    seed: 1,
    stop: afterIterations(0),
    start: before,
  });
  const replanned = timed('an emergency: re-planned', urgent, {
    seed: 1,
    stop: afterSeconds(0.8, now),
    start: before,
  });
  if (replanned.cost.total > inserted.cost.total) throw new Error('re-planning made it worse');

  const weeks = horizon(1000, 40, 10, 3);
  timed('40 crews, 10 days, 1000 orders: first', weeks, { seed: 1, stop: afterIterations(0) });
  timed('40 crews, 10 days, 1000 orders: 30 s', weeks, { seed: 1, stop: afterSeconds(30, now) });
}
