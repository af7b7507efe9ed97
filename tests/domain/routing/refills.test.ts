import fc from 'fast-check';
import { expect, test } from 'vitest';
import { driveAsTold } from '../../../src/domain/routing/asTold.js';
import { afterIterations } from '../../../src/domain/routing/budget.js';
import { check } from '../../../src/domain/routing/check.js';
import type { CrewDay, Order, RefillSite, RoutingProblem } from '../../../src/domain/routing/problem.js';
import { solve } from '../../../src/domain/routing/solve.js';
import { crewDay, gridProblem, order } from './problems.js';

const stopsOf = (problem: RoutingProblem) =>
  solve(problem, { seed: 1, stop: afterIterations(200) }).routes[0]?.stops.map((stop) =>
    stop.kind === 'visit' ? stop.orderId : stop.kind === 'break' ? 'break' : stop.siteId,
  );

const street = (...at: number[]) => at.map((x) => [x, 0] as const);

test('water is fetched where the clock allows it, though the detour is longer there', () => {
  // x at 0 s and y by 65 s: the hydrant on the way would take 50 + 25 s; behind y it costs 40 there and back.
  const problem = gridProblem(
    street(0, 10, 60, 100, 35),
    [crewDay('a', { tankLitres: 100 })],
    [
      order('x', 1, { waterLitres: 80, windows: [{ fromSeconds: 0, toSeconds: 10 }] }),
      order('y', 2, { windows: [{ fromSeconds: 0, toSeconds: 75 }] }),
      order('z', 3, { waterLitres: 80, windows: [{ fromSeconds: 76, toSeconds: 900 }] }),
    ],
    { refillSites: [{ id: 'hydrant', location: 4, seconds: 25, givesWater: true, takesWaste: false }] },
  );
  expect(stopsOf(problem)).toEqual(['x', 'y', 'hydrant', 'z']);
});

test('one stop at a yard that gives water and takes waste serves for both', () => {
  const problem = gridProblem(
    street(0, 10, 20, 30, 40, 15),
    [crewDay('a', { tankLitres: 200, wasteLitres: 100 })],
    [
      order('a', 1, { waterLitres: 120, wasteLitres: 90, windows: [{ fromSeconds: 0, toSeconds: 30 }] }),
      order('b', 2, { waterLitres: 50, wasteLitres: 30, windows: [{ fromSeconds: 31, toSeconds: 90 }] }),
      order('c', 3, { waterLitres: 60, windows: [{ fromSeconds: 91, toSeconds: 200 }] }),
      order('d', 4, { waterLitres: 60, windows: [{ fromSeconds: 201, toSeconds: 900 }] }),
    ],
    { refillSites: [{ id: 'yard', location: 5, seconds: 20, givesWater: true, takesWaste: true }] },
  );
  expect(stopsOf(problem)).toEqual(['a', 'yard', 'b', 'c', 'd']);
});

const place = fc.tuple(fc.integer({ min: 0, max: 40 }), fc.integer({ min: 0, max: 40 }));

const tankProblem = (orderCount: number) =>
  fc
    .record({
      yard: place,
      crew: fc.record({
        tankLitres: fc.constantFrom(60, 100, null),
        wasteLitres: fc.constantFrom(50, 80, null),
        shiftEndSeconds: fc.integer({ min: 250, max: 600 }),
        underWay: fc.boolean(),
      }),
      sites: fc.array(
        fc.record({ at: place, seconds: fc.integer({ min: 0, max: 30 }), kind: fc.constantFrom(1, 2, 3) }),
        { minLength: 1, maxLength: 2 },
      ),
      orders: fc.array(
        fc.record({
          at: place,
          serviceSeconds: fc.integer({ min: 0, max: 40 }),
          waterLitres: fc.integer({ min: 0, max: 50 }),
          wasteLitres: fc.integer({ min: 0, max: 40 }),
          closes: fc.option(fc.integer({ min: 60, max: 500 })),
        }),
        { minLength: 1, maxLength: orderCount },
      ),
    })
    .map(({ yard, crew: { underWay, ...crew }, sites, orders }): RoutingProblem => {
      const points = [yard, ...sites.map(({ at }) => at), ...orders.map(({ at }) => at)];
      const left = { location: 0, freeAtSeconds: 20, tankLitresLeft: 30, wasteLitresOnBoard: 20 };
      return gridProblem(
        points,
        [crewDay('a', { ...crew, ...(underWay ? { underWay: left } : {}) })],
        orders.map(({ at: _, closes, ...one }, i) =>
          order(`o${i}`, 1 + sites.length + i, {
            ...one,
            windows: closes === null ? [] : [{ fromSeconds: 0, toSeconds: closes }],
          }),
        ),
        {
          refillSites: sites.map(({ kind, seconds }, s) => ({
            id: `s${s}`,
            location: 1 + s,
            seconds,
            givesWater: (kind & 1) > 0,
            takesWaste: (kind & 2) > 0,
          })),
        },
      );
    });

interface Standing {
  at: number;
  clock: number;
  driven: number;
  water: number;
  room: number;
}

/** Least seconds driven over all ways to stop at no, one or two sites before each order; `Infinity` when none is in time. */
function leastDriving(problem: RoutingProblem, crew: CrewDay, sequence: readonly Order[]): number {
  const { travel, refillSites } = problem;
  const { underWay } = crew;
  const full = { water: crew.tankLitres ?? Infinity, room: crew.wasteLitres ?? Infinity };
  const go = (from: Standing, to: number): Standing => {
    const seconds = travel.seconds[from.at * travel.size + to]!;
    return { ...from, at: to, clock: from.clock + seconds, driven: from.driven + seconds };
  };
  const fill = (from: Standing, site: RefillSite): Standing => {
    const there = go(from, site.location);
    return {
      ...there,
      clock: there.clock + site.seconds,
      water: site.givesWater ? full.water : there.water,
      room: site.takesWaste ? full.room : there.room,
    };
  };
  const onward = (from: Standing, [next, ...rest]: readonly Order[]): number => {
    if (!next) {
      const home = go(from, crew.endLocation);
      return home.clock <= crew.shiftEndSeconds ? home.driven : Infinity;
    }
    const one = refillSites.map((site) => fill(from, site));
    const two = one.flatMap((left) => refillSites.map((site) => fill(left, site)));
    return Math.min(
      ...[from, ...one, ...two].map((left) => {
        const here = go(left, next.location);
        if (here.water < next.waterLitres || here.room < next.wasteLitres) return Infinity;
        if (here.clock > (next.windows[0]?.toSeconds ?? Infinity)) return Infinity;
        return onward(
          {
            ...here,
            clock: here.clock + next.serviceSeconds,
            water: here.water - next.waterLitres,
            room: here.room - next.wasteLitres,
          },
          rest,
        );
      }),
    );
  };
  const start = { at: crew.startLocation, clock: crew.shiftStartSeconds, driven: 0, ...full };
  if (!underWay) return onward(start, sequence);
  const water = crew.tankLitres === null ? Infinity : underWay.tankLitresLeft;
  const room = full.room - underWay.wasteLitresOnBoard;
  return onward({ ...start, at: underWay.location, clock: underWay.freeAtSeconds, water, room }, sequence);
}

test('the stops for water and waste are the cheapest that are in time, by trying all', () => {
  fc.assert(
    fc.property(tankProblem(4), (problem) => {
      const crew = problem.crewDays[0]!;
      const least = leastDriving(problem, crew, problem.orders);
      const told = driveAsTold(
        problem,
        'a',
        problem.orders.map(({ id }) => id),
      );
      const inTime = 'route' in told && told.late.length === 0 && told.route.overtimeSeconds === 0;
      expect(inTime).toBe(least < Infinity);
      if ('route' in told && inTime) expect(told.route.travelSeconds).toBe(least);
    }),
    { numRuns: 400, seed: 23 },
  );
});

test('what is left out for want of time has no place anywhere, however the tanks are filled', () => {
  fc.assert(
    fc.property(tankProblem(6), (problem) => {
      const made = solve(problem, { seed: 1, stop: afterIterations(100) });
      expect(check(problem, made)).toEqual([]);
      const orders = new Map(problem.orders.map((one) => [one.id, one]));
      const route = (made.routes[0]?.stops ?? []).flatMap((stop) =>
        stop.kind === 'visit' ? [orders.get(stop.orderId)!] : [],
      );
      for (const left of made.unplaced.filter(({ code }) => code === 'no_time_left')) {
        for (let at = 0; at <= route.length; at++) {
          const sequence = [...route.slice(0, at), orders.get(left.orderId)!, ...route.slice(at)];
          expect(leastDriving(problem, problem.crewDays[0]!, sequence)).toBe(Infinity);
        }
      }
    }),
    { numRuns: 200, seed: 29 },
  );
});

test('a yard on a shortcut is no stop where nothing need be filled or emptied', () => {
  // From x to y straight 100, by the hydrant 5 + 5: nobody stops there, and the plan costs what is driven.
  const problem = gridProblem(
    street(0, 10, 20, 15),
    [crewDay('a', { tankLitres: 100 })],
    [order('x', 1, { waterLitres: 40 }), order('y', 2, { waterLitres: 40 })],
    { refillSites: [{ id: 'hydrant', location: 3, seconds: 0, givesWater: true, takesWaste: false }] },
  );
  problem.travel.seconds[1 * 4 + 2] = 100;
  problem.travel.seconds[2 * 4 + 1] = 100;
  const made = solve(problem, { seed: 1, stop: afterIterations(50) });
  expect(check(problem, made)).toEqual([]);
  expect(made.routes[0]?.stops.map(({ kind }) => kind)).toEqual(['visit', 'visit']);
});
