import { expect, test } from 'vitest';
import { afterIterations } from '../../../src/domain/routing/budget.js';
import { check } from '../../../src/domain/routing/check.js';
import type { Plan, PlannedRoute, PlannedStop } from '../../../src/domain/routing/plan.js';
import type { RoutingProblem } from '../../../src/domain/routing/problem.js';
import { solve } from '../../../src/domain/routing/solve.js';
import { crewDay, gridProblem, order } from './problems.js';

/** Two stops with a break between, one order that nobody can do. */
const breaks = [{ earliestStartSeconds: 90, latestStartSeconds: 150, seconds: 30 }];
const crew = crewDay('a', {
  kit: ['camera'],
  breaks,
  shiftEndSeconds: 210,
  overtimeSeconds: 60,
  overtimePerHour: 3600,
});
const orders = [
  order('x', 1, { serviceSeconds: 80, needs: ['camera'], windows: [{ fromSeconds: 0, toSeconds: 20 }] }),
  order('y', 2, { serviceSeconds: 80 }),
  order('z', 1, { needs: ['jetter'], unplacedCost: 7 }),
];
const problem = gridProblem(
  [
    [0, 0],
    [10, 0],
    [12, 0],
  ],
  [crew],
  orders,
);
const plan = solve(problem, { seed: 1, stop: afterIterations(100) });

const withRoute = (change: (route: PlannedRoute) => PlannedRoute): Plan => ({
  ...plan,
  routes: plan.routes.map(change),
});
const withStop = (index: number, change: Partial<PlannedStop>): Plan =>
  withRoute((route) => ({
    ...route,
    stops: route.stops.map((stop, at) => (at === index ? ({ ...stop, ...change } as PlannedStop) : stop)),
  }));

test('a sound plan passes', () => {
  expect(plan.routes[0]!.stops.map((stop) => stop.kind)).toEqual(['visit', 'break', 'visit']);
  expect(check(problem, plan)).toEqual([]);
});

test.each<[string, Plan, string]>([
  ['a stop reached too early', withStop(0, { arrivalSeconds: 5 }), 'arrives at 10'],
  ['work shorter than it takes', withStop(2, { endSeconds: 150 }), 'leaves a stop at'],
  ['a leg shorter than the matrix', withStop(2, { travelSeconds: 1 }), 'not as the matrix says'],
  ['a stop somewhere else', withStop(0, { location: 2 }), 'x is elsewhere'],
  [
    'a rest outside the work it interrupts',
    withStop(1, { during: true } as Partial<PlannedStop>),
    'lies outside',
  ],
  ['a break cut short', withStop(1, { endSeconds: 101 }), 'wrong length'],
  [
    'a break left out',
    withRoute((route) => ({ ...route, stops: [route.stops[0]!, route.stops[2]!] })),
    'break 1 is missing',
  ],
  [
    'a stop twice',
    withRoute((route) => ({ ...route, stops: [...route.stops, route.stops[2]!] })),
    'y is placed twice',
  ],
  ['leaving before the shift', withRoute((route) => ({ ...route, leaveSeconds: -5 })), 'before 0'],
  ['overtime not said', withRoute((route) => ({ ...route, overtimeSeconds: 0 })), 'overtime is'],
  ['an order nobody speaks of', { ...plan, unplaced: [] }, 'order z is neither or both'],
  ['a cost made smaller', { ...plan, cost: { ...plan.cost, driving: 1 } }, 'cost of driving'],
  ['no routes at all', { ...plan, routes: [] }, 'order x is neither or both'],
])('finds %s', (_, broken, fault) => {
  expect(check(problem, broken).join('\n')).toContain(fault);
});

test.each<[string, Partial<RoutingProblem>, string]>([
  [
    'a window missed',
    { orders: [{ ...orders[0]!, windows: [{ fromSeconds: 0, toSeconds: 5 }] }, orders[1]!, orders[2]!] },
    'outside its windows',
  ],
  ['kit that is not there', { crewDays: [{ ...crew, kit: [] }] }, 'needs camera'],
  ['too few people', { crewDays: [{ ...crew, people: 0 }] }, 'needs 1 people'],
  ['a shift overrun', { crewDays: [{ ...crew, overtimeSeconds: 0 }] }, 'after its overtime'],
  [
    'a tank run dry',
    { crewDays: [{ ...crew, tankLitres: 5 }], orders: orders.map((one) => ({ ...one, waterLitres: 4 })) },
    'runs dry at y',
  ],
  [
    'a promise broken',
    { orders: orders.map((one) => ({ ...one, lock: { crewId: 'b' } })) },
    'locked to another crew',
  ],
  [
    'a chain out of turn',
    { orders: [{ ...orders[0]!, follows: [{ orderId: 'y', minDaysBetween: 0 }] }, orders[1]!, orders[2]!] },
    'x comes too soon after y',
  ],
])('finds %s', (_, change, fault) => {
  expect(check({ ...problem, ...change }, plan).join('\n')).toContain(fault);
});

test('finds a lawn laid too few calendar days after its dig', () => {
  const lawn = order('lawn', 1, { follows: [{ orderId: 'dig', minDaysBetween: 3 }] });
  const week = gridProblem(
    [
      [0, 0],
      [10, 0],
    ],
    [crewDay('fri'), crewDay('mon', { day: 1 })],
    [order('dig', 1, { lock: { day: 0 } }), lawn],
    { days: ['Friday', 'Monday'], calendarDays: [4, 7] },
  );
  const made = solve(week, { seed: 1, stop: afterIterations(50) });
  expect(made.unplaced).toEqual([]);
  expect(check(week, made)).toEqual([]);
  expect(check({ ...week, calendarDays: [4, 6] }, made)).toEqual(['order lawn comes too soon after dig']);
});
