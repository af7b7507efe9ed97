import { expect, test } from 'vitest';
import { greatCircleTravel, withLeastLegs } from '../../../src/domain/work/travel.js';

test('no drive between two houses takes less than the least leg; one place stays one', () => {
  // 200 m and 20 km north of the first; two sites on one guessed point.
  const points = [0, 0.0018, 0.18, 0.18].map((north) => ({ latitude: 44 + north, longitude: -90 }));
  const circle = greatCircleTravel(points);
  // .0018° of latitude: 6 371 000 × .0018 × π/180 = 200.2 m, × 1.3 = 260 m, at 50 km/h 18.7 s.
  expect(circle.seconds[1]).toBe(19);
  const travel = withLeastLegs(circle, ['a', 'b', 'c', 'd'], 120);
  expect(travel.seconds[0 * 4 + 1]).toBe(120);
  expect(travel.seconds[0 * 4 + 2]).toBe(circle.seconds[2]);
  expect(travel.seconds[2 * 4 + 3]).toBe(120);
  expect([0, 5, 10, 15].map((arc) => travel.seconds[arc])).toEqual([0, 0, 0, 0]);
  expect(travel.metres).toEqual(circle.metres);
  // A crew that stands at the house it goes on working at.
  expect(withLeastLegs(circle, ['a', 'b', 'c', null], 120).seconds[2 * 4 + 3]).toBe(0);
});
