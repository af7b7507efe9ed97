import fc from 'fast-check';
import { expect, test } from 'vitest';
import { afterIterations, NO_ITERATION } from '../../../src/domain/routing/budget.js';
import { check } from '../../../src/domain/routing/check.js';
import type { Plan, StartRoutes } from '../../../src/domain/routing/plan.js';
import type { RoutingProblem } from '../../../src/domain/routing/problem.js';
import { solve } from '../../../src/domain/routing/solve.js';
import { bruteForceCost } from './bruteForce.js';
import { crewDay, gridProblem, order } from './problems.js';
import { plainProblem, richProblem } from './randomProblem.js';

const plan = (problem: RoutingProblem, iterations = 500, seed = 1) =>
  solve(problem, { seed, stop: afterIterations(iterations) });

const visits = (made: Plan) =>
  made.routes.map((route) => route.stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : [])));

const asStart = (made: Plan): StartRoutes =>
  made.routes.map((route, r) => ({ crewDayId: route.crewDayId, orderIds: visits(made)[r]! }));

test('three stops along a street are driven there and back once', () => {
  // 0 → 10 → 20 → 30 → 0: 60 seconds.
  const points = [
    [0, 0],
    [10, 0],
    [20, 0],
    [30, 0],
  ] as const;
  const made = plan(gridProblem(points, [crewDay('a')], [order('x', 1), order('y', 2), order('z', 3)]));
  expect(made.cost.total).toBe(60);
  expect(made.unplaced).toEqual([]);
});

test('as cheap as trying every plan, with windows, kit, people, overtime and prizes', () => {
  fc.assert(
    fc.property(plainProblem(5), (problem) => {
      const made = plan(problem, 800);
      expect(check(problem, made)).toEqual([]);
      expect(made.cost.total).toBe(bruteForceCost(problem));
    }),
    { numRuns: 150, seed: 7 },
  );
});

test('every rule holds by the independent checker, whatever the problem asks', () => {
  fc.assert(
    fc.property(richProblem, (problem) => {
      expect(check(problem, plan(problem, 300))).toEqual([]);
    }),
    { numRuns: 200, seed: 11 },
  );
});

test('a crew under way that cannot be home in its overtime drives home all the same', () => {
  const underWay = { location: 1, freeAtSeconds: 690, tankLitresLeft: 0, wasteLitresOnBoard: 0 };
  const late = crewDay('a', { shiftEndSeconds: 700, overtimeSeconds: 100, underWay });
  const problem = gridProblem(
    [
      [0, 0],
      [400, 0],
    ],
    [late],
    [order('x', 0)],
  );
  const made = plan(problem, 50);
  expect(check(problem, made)).toEqual([]);
  // Free at 690, 400 to drive, shift until 700.
  expect(made.routes[0]).toMatchObject({ endSeconds: 1090, overtimeSeconds: 390, stops: [] });
  expect(made.unplaced).toHaveLength(1);
});

test('work that spans the whole lunch window is interrupted for lunch', () => {
  const lunch = [{ earliestStartSeconds: 300, latestStartSeconds: 350, seconds: 30 }];
  const street = [
    [0, 0],
    [100, 0],
  ] as const;
  const dig = order('dig', 1, { serviceSeconds: 600 });
  const problem = gridProblem(street, [crewDay('a', { breaks: lunch, shiftEndSeconds: 830 })], [dig]);
  const made = plan(problem, 50);
  expect(check(problem, made)).toEqual([]);
  // 100 there, work 100 to 700 and 30 of lunch from 300 inside it, 100 back.
  expect(made.routes[0]?.stops).toMatchObject([
    { kind: 'visit', startSeconds: 100, endSeconds: 730 },
    { kind: 'break', during: true, startSeconds: 300, endSeconds: 330 },
  ]);
  expect(made.routes[0]?.endSeconds).toBe(830);
  const short = gridProblem(street, [crewDay('a', { breaks: lunch, shiftEndSeconds: 829 })], [dig]);
  expect(plan(short, 50).unplaced).toHaveLength(1);
});

test('never loses or repeats a stop', () => {
  fc.assert(
    fc.property(richProblem, (problem) => {
      const made = plan(problem, 100);
      const seen = [...visits(made).flat(), ...made.unplaced.map((one) => one.orderId)].sort();
      expect(seen).toEqual(problem.orders.map((one) => one.id).sort());
    }),
    { numRuns: 60, seed: 13 },
  );
});

test('the same seed gives the same plan, in whatever order the problem is written', () => {
  fc.assert(
    fc.property(richProblem, (problem) => {
      const turned = {
        ...problem,
        orders: [...problem.orders].reverse(),
        crewDays: [...problem.crewDays].reverse(),
        sharedKit: [...problem.sharedKit].reverse(),
        refillSites: [...problem.refillSites].reverse(),
      };
      expect(plan(turned, 200, 5)).toEqual(plan(problem, 200, 5));
    }),
    { numRuns: 40, seed: 17 },
  );
});

test('never worse than the plan it starts from', () => {
  fc.assert(
    fc.property(richProblem, (problem) => {
      const first = plan(problem, 100);
      const again = solve(problem, { seed: 2, stop: afterIterations(0), start: asStart(first) });
      const improved = solve(problem, { seed: 2, stop: afterIterations(64), start: asStart(first) });
      // Without iterations the start itself comes back: nothing is lost on the way in.
      expect(again.unplaced.length).toBeLessThanOrEqual(first.unplaced.length);
      expect(again.cost.total).toBe(first.cost.total);
      const mustOut = (made: Plan) =>
        made.unplaced.filter(
          (out) => problem.orders.find((one) => one.id === out.orderId)?.unplacedCost === null,
        ).length;
      expect(mustOut(improved)).toBeLessThanOrEqual(mustOut(first));
      if (mustOut(improved) === mustOut(first))
        expect(improved.cost.total).toBeLessThanOrEqual(first.cost.total);
    }),
    { numRuns: 60, seed: 19 },
  );
});

test('an order goes where its waiting costs least', () => {
  const crews = [crewDay('a1'), crewDay('a2', { crewId: 'a1', day: 1 })];
  const urgent = order('x', 1, { waitingCost: [0, 500] });
  const patient = order('y', 1, { waitingCost: [500, 0] });
  const made = plan(
    gridProblem(
      [
        [0, 0],
        [10, 0],
      ],
      crews,
      [urgent, patient],
    ),
  );
  expect(visits(made)).toEqual([['x'], ['y']]);
});

test('one excavator serves one crew a day', () => {
  const crews = [crewDay('a'), crewDay('b'), crewDay('a2', { crewId: 'a', day: 1 })];
  const digs = [
    order('x', 1, { serviceSeconds: 900, needs: ['excavator'] }),
    order('y', 1, { serviceSeconds: 900, needs: ['excavator'] }),
  ];
  const made = plan(
    gridProblem(
      [
        [0, 0],
        [10, 0],
      ],
      crews,
      digs,
      { sharedKit: [{ id: 'digger', kind: 'excavator' }] },
    ),
  );
  expect(made.unplaced).toEqual([]);
  expect(made.routes.map((route) => [route.day, route.sharedKitIds])).toEqual([
    [0, ['digger']],
    [1, ['digger']],
  ]);
});

test('restoration comes at least two days after the dig', () => {
  const days = [0, 1, 2, 3].map((day) => crewDay(`a${day}`, { crewId: 'a', day }));
  const dig = order('dig', 1, { waitingCost: [900, 0, 900, 900] });
  const lawn = order('lawn', 1, { follows: [{ orderId: 'dig', minDaysBetween: 2 }] });
  const made = plan(
    gridProblem(
      [
        [0, 0],
        [10, 0],
      ],
      days,
      [dig, lawn],
    ),
  );
  expect(made.routes.map((route) => route.day)).toEqual([1, 3]);
});

test('lunch is taken inside its window, and falls away when the day is over before', () => {
  const breaks = [{ earliestStartSeconds: 90, latestStartSeconds: 150, seconds: 30 }];
  const problem = (work: number) =>
    gridProblem(
      [
        [0, 0],
        [10, 0],
      ],
      [crewDay('a', { breaks })],
      [order('x', 1, { serviceSeconds: work }), order('y', 1, { serviceSeconds: work })],
    );
  // Drive 10, work 80 to 90, lunch from 90 to 120, work 80, drive 10: home at 210.
  const long = plan(problem(80)).routes[0]!;
  expect(long.stops.map((stop) => stop.kind)).toEqual(['visit', 'break', 'visit']);
  expect(long.endSeconds).toBe(210);
  // 10 + 2 × 50 + 10 = 120: home before lunch must have begun.
  expect(plan(problem(50)).routes[0]!.stops.map((stop) => stop.kind)).toEqual(['visit', 'visit']);
});

test('the tank is filled again where the detour is shortest', () => {
  const thirsty = ['w', 'x', 'y', 'z'].map((id, i) => order(id, i + 1, { waterLitres: 50 }));
  const points = [
    [0, 0],
    [10, 0],
    [20, 0],
    [30, 0],
    [40, 0],
    [22, 3],
  ] as const;
  const problem = gridProblem(points, [crewDay('a', { tankLitres: 100 })], thirsty, {
    refillSites: [{ id: 'hydrant', location: 5, seconds: 20, givesWater: true, takesWaste: false }],
  });
  const made = plan(problem);
  // 80 there and back along the street, and 3 + 3 to the hydrant beside it.
  expect(made.cost.total).toBe(86);
  expect(made.routes[0]!.stops.filter((stop) => stop.kind === 'refill')).toHaveLength(1);
});

test('a crew under way starts where it is, with what it has left', () => {
  const underWay = { location: 2, freeAtSeconds: 400, tankLitresLeft: 100, wasteLitresOnBoard: 0 };
  const made = plan(
    gridProblem(
      [
        [0, 0],
        [10, 0],
        [30, 0],
      ],
      [crewDay('a', { underWay })],
      [order('x', 1)],
    ),
  );
  // From 30 back to 10 on the way home: 400 + 20.
  expect(made.routes[0]!.stops[0]!.startSeconds).toBe(420);
});

test('a promise locked to day, crew and hour is kept though it costs', () => {
  const crews = [crewDay('a'), crewDay('b', { startLocation: 2, endLocation: 2, day: 1 })];
  const promised = order('x', 1, { lock: { day: 1, crewId: 'b', fromSeconds: 500, toSeconds: 600 } });
  const made = plan(
    gridProblem(
      [
        [0, 0],
        [10, 0],
        [90, 0],
      ],
      crews,
      [promised],
    ),
  );
  expect(made.routes.map((route) => route.crewDayId)).toEqual(['b']);
  expect(made.routes[0]!.stops[0]!.startSeconds).toBe(500);
  // The crew leaves its yard so as not to wait: 500 − 80.
  expect(made.routes[0]!.leaveSeconds).toBe(420);
});

test('an accepted stop stays with its crew unless moving saves more than it costs', () => {
  const crews = [crewDay('a'), crewDay('b', { startLocation: 1, endLocation: 1 })];
  const stay = (otherCrewCost: number) =>
    plan(
      gridProblem(
        [
          [0, 0],
          [10, 0],
          [8, 0],
        ],
        crews,
        [order('x', 2, { accepted: { day: 0, crewId: 'a', otherDayCost: 50, otherCrewCost } })],
      ),
    ).routes[0]!.crewId;
  // Crew a drives 16, crew b 4.
  expect(stay(13)).toBe('a');
  expect(stay(11)).toBe('b');
});

test('an order that one crew alone can do gets its room, though that crew runs full elsewhere', () => {
  // Crew a has the only camera and is full of what crew b, idle at the far end, could do as well.
  const near = Array.from({ length: 12 }, (_, i) => order(`near${i}`, 1, { serviceSeconds: 80 }));
  const scarce = order('scarce', 2, { needs: ['camera'], serviceSeconds: 80, unplacedCost: 90_000 });
  const problem = gridProblem(
    [
      [0, 0],
      [5, 0],
      [60, 0],
      [40, 0],
    ],
    [crewDay('a', { kit: ['camera'] }), crewDay('b', { startLocation: 3, endLocation: 3 })],
    [...near, scarce],
  );
  const start = [{ crewDayId: 'a', orderIds: near.map(({ id }) => id) }];
  const made = solve(problem, { seed: 1, stop: afterIterations(400), start });
  expect(made.unplaced).toEqual([]);
  expect(made.routes[0]!.stops.map((stop) => stop.kind === 'visit' && stop.orderId)).toContain('scarce');
});

test('a problem that contradicts itself is refused by name', () => {
  const points = [
    [0, 0],
    [10, 0],
  ] as const;
  const twice = gridProblem(points, [crewDay('a')], [order('x', 1), order('x', 1)]);
  expect(() => plan(twice)).toThrow('order x is there twice');
  const loop = gridProblem(
    points,
    [crewDay('a')],
    [order('x', 1, { follows: [{ orderId: 'x', minDaysBetween: 0 }] })],
  );
  expect(() => plan(loop)).toThrow('order x follows itself in a loop');
  expect(() => plan(gridProblem(points, [crewDay('a')], [order('x', 7)]))).toThrow('location 7');
});

test('a crew under way whose tank is not counted never stops for water', () => {
  const underWay = { location: 0, freeAtSeconds: 100, tankLitresLeft: 0, wasteLitresOnBoard: 0 };
  const problem = gridProblem(
    [
      [0, 0],
      [10, 0],
      [400, 0],
    ],
    [crewDay('a', { tankLitres: null, underWay })],
    [order('x', 1, { waterLitres: 300 })],
    { refillSites: [{ id: 'hydrant', location: 2, seconds: 15, givesWater: true, takesWaste: false }] },
  );
  const made = plan(problem, 50);
  expect(check(problem, made)).toEqual([]);
  expect(made.routes[0]?.stops.map(({ kind }) => kind)).toEqual(['visit']);
});

test('when the time is up the start is laid quickly, and all that fits is placed', () => {
  const scattered = Array.from({ length: 61 }, (_, i) => [(i * 37) % 101, (i * 53) % 97] as const);
  const problem = gridProblem(
    scattered,
    [crewDay('a', { shiftEndSeconds: 2000 }), crewDay('b', { shiftEndSeconds: 2000 })],
    scattered.slice(1).map((_, i) => order(`o${i}`, i + 1)),
  );
  for (const patience of [0, 20]) {
    const asked: number[] = [];
    const stop = (iteration: number) => (asked.push(iteration) > patience ? 2 : 0);
    const made = solve(problem, { seed: 1, stop });
    expect(check(problem, made)).toEqual([]);
    expect([made.unplaced, made.iterations]).toEqual([[], 0]);
    expect(asked[0]).toBe(NO_ITERATION);
    // The start alone would ask for each of the 60 orders twice.
    expect(asked.length).toBeLessThan(patience + 10);
  }
});
