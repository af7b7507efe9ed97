import { expect, test } from 'vitest';
import { afterIterations } from '../../../src/domain/routing/budget.js';
import { solve } from '../../../src/domain/routing/solve.js';
import { crewDay, gridProblem, order } from './problems.js';

const points = [
  [0, 0],
  [10, 0],
  [900, 0],
  [12, 0],
] as const;

/** People rely on far, near, end: 12 + 2 + 890 + 900 = 1804; near, far, end drives 1800. */
function sequence(otherHourCost: number, more: { location?: number } = {}): string[] {
  const accepted = (startSeconds: number) => ({
    accepted: { day: 0, crewId: 'a', otherDayCost: 0, otherCrewCost: 0, startSeconds, otherHourCost },
    serviceSeconds: 1000,
  });
  const problem = gridProblem(
    points,
    [crewDay('a', { shiftEndSeconds: 9000 })],
    [
      order('far', 3, accepted(12)),
      order('near', 1, accepted(1014)),
      order('end', 2, accepted(2904)),
      ...(more.location === undefined ? [] : [order('new', more.location)]),
    ],
  );
  const { routes } = solve(problem, {
    seed: 1,
    stop: afterIterations(500),
    start: [{ crewDayId: 'a', orderIds: ['far', 'near', 'end'] }],
  });
  return routes.flatMap(({ stops }) =>
    stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : [])),
  );
}

test('hours people rely on change only where that saves more than the other hours cost', () => {
  // Two would start 1000 s sooner or later, for 4 saved.
  expect(sequence(100)).toEqual(['far', 'near', 'end']);
  // Near and far either way round the end: both are 1800.
  expect(sequence(1)[0]).not.toBe('far');
  expect(sequence(0)[0]).not.toBe('far');
});

test('a new order goes where it is cheapest among those that keep their sequence', () => {
  expect(sequence(100, { location: 2 }).filter((id) => id !== 'new')).toEqual(['far', 'near', 'end']);
});
