import { expect, test } from 'vitest';
import type { CrewDay, Order, RoutingProblem } from '../../../src/domain/routing/problem.js';
import { validate } from '../../../src/domain/routing/validate.js';
import { crewDay, gridProblem, order } from './problems.js';

const points = [
  [0, 0],
  [10, 0],
] as const;
const withCrew = (rest: Partial<CrewDay>) => gridProblem(points, [crewDay('a', rest)], [order('x', 1)]);
const withOrder = (rest: Partial<Order>) => gridProblem(points, [crewDay('a')], [order('x', 1, rest)]);
const site = { id: 's', location: 0, seconds: -1, givesWater: true, takesWaste: false };
const underWay = { location: 0, freeAtSeconds: 0, tankLitresLeft: -5, wasteLitresOnBoard: 0 };
const accepted = { day: 7, crewId: 'a', otherDayCost: 1, otherCrewCost: 1 };

test.each<[RoutingProblem, string]>([
  [withCrew({ tankLitres: NaN }), 'crew-day a: tankLitres is NaN'],
  [withCrew({ overtimeSeconds: -60 }), 'crew-day a: overtimeSeconds is -60'],
  [withCrew({ useCost: -1 }), 'crew-day a: useCost'],
  [withCrew({ underWay }), 'crew-day a under way: tankLitresLeft is -5'],
  [
    withCrew({ breaks: [{ earliestStartSeconds: 0, latestStartSeconds: 9, seconds: -1 }] }),
    'crew-day a: a break: seconds',
  ],
  [withOrder({ waterLitres: -3 }), 'order x: waterLitres is -3'],
  [withOrder({ wasteLitres: Infinity }), 'order x: wasteLitres is Infinity'],
  [withOrder({ serviceSecondsByCrew: { a: -1 } }), 'order x: minutes by crew: a is -1'],
  [withOrder({ waitingCost: [0, NaN] }), 'order x: waiting cost by day: 1 is NaN'],
  [withOrder({ unplacedCost: -1 }), 'order x: unplacedCost'],
  [withOrder({ windows: [{ fromSeconds: NaN, toSeconds: 5 }] }), 'order x: a window: fromSeconds is not'],
  [withOrder({ lock: { day: 5 } }), 'order x: locked: day 5 is not one of the 5 days'],
  [withOrder({ accepted }), 'order x: accepted: day 7 is not one of the 5 days'],
  [{ ...withOrder({}), refillSites: [site] }, 'refill site s: seconds is -1'],
  [{ ...withOrder({}), costs: { drivingPerHour: NaN, drivingPerKm: 0 } }, 'costs: drivingPerHour'],
  [{ ...withOrder({}), days: Array(11).fill('a day') }, '11 days: at most 10'],
])('what no day can be is refused by name', (problem, message) => {
  expect(() => validate(problem)).toThrow(RangeError);
  expect(() => validate(problem)).toThrow(message);
});

test('a sound problem passes', () => {
  expect(() => validate(withOrder({ windows: [{ fromSeconds: 10, toSeconds: 5 }] }))).not.toThrow();
});
