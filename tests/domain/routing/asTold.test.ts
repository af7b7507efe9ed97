import fc from 'fast-check';
import { expect, test } from 'vitest';
import { driveAsTold } from '../../../src/domain/routing/asTold.js';
import { afterIterations } from '../../../src/domain/routing/budget.js';
import { check } from '../../../src/domain/routing/check.js';
import { solve } from '../../../src/domain/routing/solve.js';
import { crewDay, gridProblem, order } from './problems.js';
import { plainProblem } from './randomProblem.js';

const street = [
  [0, 0],
  [100, 0],
  [200, 0],
] as const;

test('keeps the sequence, and says what becomes late and how long the crew stays', () => {
  const orders = [
    order('near', 1, { windows: [{ fromSeconds: 0, toSeconds: 120 }], serviceSeconds: 300 }),
    order('far', 2, { serviceSeconds: 300 }),
  ];
  const told = driveAsTold(gridProblem(street, [crewDay('a')], orders), 'a', ['far', 'near']);
  if ('refused' in told) throw new Error(told.refused.code);
  // 200 there, 300 of work, 100 back: at the near house at 600, which closed at 120. 600 + 300 + 100 = 1000.
  expect(told.late).toEqual([{ orderId: 'near', lateSeconds: 480 }]);
  expect(told.route).toMatchObject({ travelSeconds: 400, endSeconds: 1000, overtimeSeconds: 0 });
  const more = gridProblem(street, [crewDay('a', { shiftEndSeconds: 700 })], orders);
  const longer = driveAsTold(more, 'a', ['far', 'near']);
  expect('route' in longer && longer.route.overtimeSeconds).toBe(300);
});

test('a stop that comes too early waits for its opening, also where another is late', () => {
  const orders = [
    order('x', 1, { windows: [{ fromSeconds: 0, toSeconds: 50 }] }),
    order('y', 2, { windows: [{ fromSeconds: 500, toSeconds: 600 }] }),
  ];
  const told = driveAsTold(gridProblem(street, [crewDay('a')], orders), 'a', ['x', 'y']);
  if ('refused' in told) throw new Error(told.refused.code);
  expect(told.late).toEqual([{ orderId: 'x', lateSeconds: 50 }]);
  expect(told.route.stops[1]).toMatchObject({ arrivalSeconds: 210, startSeconds: 500 });
});

test('kit, people and closed seasons are nobody’s to override', () => {
  const dig = order('dig', 1, { needs: ['excavator'] });
  const wet = order('wet', 1, { closedCrewDays: ['a'] });
  const problem = gridProblem(street, [crewDay('a')], [dig, wet]);
  expect(driveAsTold(problem, 'a', ['dig'])).toMatchObject({
    refused: { code: 'obstacle', orderId: 'dig', obstacle: { code: 'no_kit', kind: 'excavator' } },
  });
  expect(driveAsTold(problem, 'a', ['wet'])).toMatchObject({
    refused: { obstacle: { code: 'closed_season' } },
  });
  const other = gridProblem(street, [crewDay('a'), crewDay('b')], [wet]);
  expect(driveAsTold(other, 'b', ['wet'])).toMatchObject({ late: [] });
  expect(driveAsTold(problem, 'b', [])).toMatchObject({ refused: { code: 'unknown_crew_day' } });
});

test('told what the planner planned, it drives the same times and nobody is late', () => {
  fc.assert(
    fc.property(plainProblem(6), (problem) => {
      const plan = solve(problem, { seed: 1, stop: afterIterations(100) });
      expect(check(problem, plan)).toEqual([]);
      for (const route of plan.routes) {
        const ids = route.stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : []));
        const told = driveAsTold(problem, route.crewDayId, ids);
        if ('refused' in told) throw new Error(told.refused.code);
        expect(told.late).toEqual([]);
        expect(told.route).toEqual(route);
      }
    }),
    { numRuns: 60, seed: 3 },
  );
});
