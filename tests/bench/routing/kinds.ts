/**
 * Kinds of problem that the benchmark files lack, generated with a plan planted in them: site-dependent crews,
 * several depots, prizes, several days.
 *
 * The planted plan is what a careful dispatcher would draw (each crew a sector, its stops by the nearest next, hours
 * around the planted times), so that its cost is a bar to get under, not an optimum.
 */
import { afterSeconds } from '../../../src/domain/routing/budget.js';
import type { CrewDay, Order, RoutingProblem } from '../../../src/domain/routing/problem.js';
import { Random } from '../../../src/domain/routing/random.js';
import { type BenchAsk, checked } from './checked.js';

const KINDS = ['jetter', 'camera', 'excavator', 'vacuum'];
const HOUR = 3600;
const METRES_PER_SECOND = 14;

interface Kind {
  name: string;
  crews: number;
  days: number;
  depots: number;
  /** Share of orders that need kit only some crews have. */
  kitShare: number;
  /** Orders beyond the planted ones, for which there is no time. */
  extraShare: number;
}

const PROBLEMS: readonly Kind[] = [
  { name: 'site-dependent', crews: 12, days: 1, depots: 1, kitShare: 0.7, extraShare: 0 },
  { name: 'multi-depot', crews: 12, days: 1, depots: 5, kitShare: 0, extraShare: 0 },
  { name: 'prize-collecting', crews: 10, days: 1, depots: 1, kitShare: 0, extraShare: 1 },
  { name: 'several-days', crews: 5, days: 5, depots: 2, kitShare: 0.4, extraShare: 0.2 },
];

interface Stop {
  x: number;
  y: number;
  service: number;
}

/** A problem with its planted plan's cost. */
function planted(kind: Kind, seed: number): { problem: RoutingProblem; cost: number } {
  const random = new Random(seed);
  const depots = Array.from({ length: kind.depots }, () => ({
    x: 10_000 + random.unit() * 40_000,
    y: 10_000 + random.unit() * 40_000,
  }));
  const points: { x: number; y: number }[] = [...depots];
  const crewDays: CrewDay[] = [];
  const orders: Order[] = [];
  let cost = 0;
  const seconds = (a: { x: number; y: number }, b: { x: number; y: number }) =>
    Math.round(Math.hypot(a.x - b.x, a.y - b.y) / METRES_PER_SECOND);

  for (let k = 0; k < kind.crews; k++) {
    const depot = k % kind.depots;
    const home = depots[depot]!;
    const kit = KINDS.filter((_, i) => i === k % KINDS.length || random.unit() < 0.3);
    for (let day = 0; day < kind.days; day++) {
      crewDays.push(crewDay(`crew ${k}`, day, depot, kit));
      const angle = (2 * Math.PI * (k * kind.days + day)) / (kind.crews * kind.days);
      const sector = Array.from({ length: 18 }, (): Stop => {
        const turn = angle + (random.unit() - 0.5) * 0.5;
        const reach = 2_000 + random.unit() * 18_000;
        return {
          x: home.x + Math.cos(turn) * reach,
          y: home.y + Math.sin(turn) * reach,
          service: 600 * (1 + random.below(4)),
        };
      });
      let clock = 7 * HOUR;
      let at: { x: number; y: number } = home;
      while (sector.length > 0) {
        const next = sector.reduce((best, stop) => (seconds(at, stop) < seconds(at, best) ? stop : best));
        const arrival = clock + seconds(at, next);
        if (arrival + next.service + seconds(next, home) > 15 * HOUR) break;
        sector.splice(sector.indexOf(next), 1);
        cost += seconds(at, next);
        const needs = random.unit() < kind.kitShare ? [kit[random.below(kit.length)]!] : [];
        const hours =
          random.unit() < 0.4 ? [{ day, fromSeconds: arrival - HOUR, toSeconds: arrival + HOUR }] : [];
        orders.push(
          order(orders.length, points.push(next) - 1, next.service, needs, hours, kind.days, 50_000),
        );
        clock = arrival + next.service;
        at = next;
      }
      cost += seconds(at, home);
    }
  }
  const extras = Math.round(orders.length * kind.extraShare);
  for (let i = 0; i < extras; i++) {
    const place = { x: random.unit() * 60_000, y: random.unit() * 60_000 };
    const penalty = 300 + random.below(3_000);
    cost += penalty;
    orders.push(
      order(orders.length, points.push(place) - 1, 600 * (1 + random.below(4)), [], [], kind.days, penalty),
    );
  }
  const size = points.length;
  const matrix = new Int32Array(size * size);
  points.forEach((a, i) => {
    points.forEach((b, j) => {
      matrix[i * size + j] = seconds(a, b);
    });
  });
  return {
    cost,
    problem: {
      days: Array.from({ length: kind.days }, (_, day) => `day ${day + 1}`),
      travel: { size, seconds: matrix, metres: matrix },
      crewDays,
      orders,
      sharedKit: [],
      refillSites: [],
      costs: { drivingPerHour: 3600, drivingPerKm: 0 },
    },
  };
}

const crewDay = (crewId: string, day: number, depot: number, kit: readonly string[]): CrewDay => ({
  id: `${crewId} day ${day}`,
  crewId,
  day,
  startLocation: depot,
  endLocation: depot,
  shiftStartSeconds: 7 * HOUR,
  shiftEndSeconds: 15 * HOUR,
  overtimeSeconds: 0,
  overtimePerHour: 0,
  breaks: [],
  kit,
  people: 2,
  tankLitres: null,
  wasteLitres: null,
  useCost: 0,
});

const order = (
  number: number,
  location: number,
  serviceSeconds: number,
  needs: readonly string[],
  windows: Order['windows'],
  days: number,
  unplacedCost: number,
): Order => ({
  id: `order ${number}`,
  location,
  serviceSeconds,
  windows,
  needs,
  people: 1,
  waterLitres: 0,
  wasteLitres: 0,
  waitingCost: Array.from({ length: days }, () => 0),
  unplacedCost,
  follows: [],
});

/** Cost of each kind against its planted plan, by seconds and seed. */
export function benchKinds({ seconds: list, seeds, nowMs, only }: BenchAsk): void {
  console.log('\nkind              orders  seconds  planted      ours  against planted  left out');
  for (const kind of PROBLEMS.filter(({ name }) => name.includes(only))) {
    for (const seconds of list) {
      const gaps: number[] = [];
      for (const seed of seeds) {
        const { problem, cost } = planted(kind, seed);
        const plan = checked(kind.name, problem, { seed, stop: afterSeconds(seconds, nowMs) });
        const against = ((plan.cost.total - cost) / cost) * 100;
        gaps.push(against);
        console.log(
          `${kind.name.padEnd(17)} ${String(problem.orders.length).padStart(6)} ${String(seconds).padStart(8)} ${String(cost).padStart(8)} ${String(plan.cost.total).padStart(9)} ${`${against.toFixed(1)} %`.padStart(16)} ${String(plan.unplaced.length).padStart(9)}`,
        );
      }
      const mean = gaps.reduce((sum, gap) => sum + gap, 0) / gaps.length;
      console.log(`${kind.name.padEnd(17)} mean at ${seconds} s: ${mean.toFixed(1)} %`);
    }
  }
}
