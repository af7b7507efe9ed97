import { expect, test } from 'vitest';
import { afterIterations } from '../../../src/domain/routing/budget.js';
import { check } from '../../../src/domain/routing/check.js';
import { solve } from '../../../src/domain/routing/solve.js';
import { crewDay, gridProblem, order } from './problems.js';

/**
 * One crew, two days of 100 seconds, two houses at one place 10 away, 60 seconds of work each. Both on Monday: back at
 * 10 + 60 + 60 + 10 = 140, 40 of overtime at 1 a second. One on Tuesday: 20 more on the road, 40 less overtime, and
 * what waiting a day costs.
 */
const twoDays = (waiting: number, overtimeGain?: number) => {
  const work = { serviceSeconds: 60, waitingCost: [0, waiting] };
  const day = { crewId: 'heron', shiftEndSeconds: 100, overtimeSeconds: 60, overtimePerHour: 3600 };
  return gridProblem(
    [
      [0, 0],
      [10, 0],
    ],
    [crewDay('mon', day), crewDay('tue', { ...day, day: 1 })],
    [order('x', 1, work), order('y', 1, work)],
    {
      costs: {
        drivingPerHour: 3600,
        drivingPerKm: 0,
        ...(overtimeGain === undefined ? {} : { overtimeGain }),
      },
    },
  );
};
const solved = (problem: ReturnType<typeof twoDays>) => {
  const plan = solve(problem, { seed: 1, stop: afterIterations(200) });
  expect(check(problem, plan)).toEqual([]);
  return plan;
};

test('a plan tells what its overtime buys: who would come later without, and what that costs more', () => {
  const { overtime } = solved(twoDays(50));
  // 50 for the day's waiting and 20 on the road, less 40 of overtime.
  expect(overtime).toEqual([
    {
      crewDayId: 'mon',
      overtimeSeconds: 40,
      overtimeCost: 40,
      without: [
        {
          orderId: expect.stringMatching(/^[xy]$/),
          place: { crewDayId: 'tue', crewId: 'heron', day: 1, startSeconds: 10 },
        },
      ],
      extraCost: 30,
    },
  ]);
});

test('no overtime beside an empty day where the wait costs no more', () => {
  expect(solved(twoDays(20)).overtime).toEqual([]);
  expect(solved(twoDays(21)).overtime).toHaveLength(1);
});

test('overtime must gain what the owner asks of it', () => {
  // Without it 30 dearer: 70 bought for 40, 1.75 times its price.
  expect(solved(twoDays(50, 1.7)).overtime).toHaveLength(1);
  expect(solved(twoDays(50, 1.8)).overtime).toEqual([]);
});

test('where the days are full it says who would be left out', () => {
  const problem = twoDays(50);
  const full = { ...problem, crewDays: problem.crewDays.slice(0, 1) };
  const [bought] = solve(
    { ...full, orders: full.orders.map((each) => ({ ...each, unplacedCost: 500 })) },
    { seed: 1, stop: afterIterations(200) },
  ).overtime;
  // One house left out: 500, less 40 of overtime; the drive stays.
  expect(bought).toMatchObject({ without: [{ place: null }], extraCost: 460 });
});
