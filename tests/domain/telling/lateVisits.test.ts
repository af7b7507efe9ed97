import { expect, test } from 'vitest';
import { lateVisits } from '../../../src/domain/telling/lateVisits.js';

const minutes = (n: number) => n * 60_000;
const at = (time: string) => Date.parse(`2026-10-01T${time}:00Z`);
const stop = (start: string, end: string, promisedTo: string | null, travel = 10) => ({
  travelMs: minutes(travel),
  plannedStartMs: at(start),
  plannedEndMs: at(end),
  promisedToMs: promisedTo === null ? null : at(promisedTo),
});

test('a delay runs down the route and is eaten by what waits', () => {
  const stops = [
    stop('10:00', '11:00', '10:30'),
    stop('11:10', '12:00', null),
    stop('14:00', '15:00', '14:10'),
  ];
  // Free at 10:40: begins 10:50, 20 min past 10:30; then 12:00 to 12:50; the third waits for 14:00 and is in time.
  expect(lateVisits(at('10:40'), stops, minutes(15))).toEqual([{ index: 0, expectedMs: at('10:50') }]);
  // Free at 12:50: 13:00 to 14:00, 14:10 to 15:00, 15:10: an hour past 14:10.
  expect(lateVisits(at('12:50'), stops, minutes(15))).toEqual([
    { index: 0, expectedMs: at('13:00') },
    { index: 2, expectedMs: at('15:10') },
  ]);
});

test('a few minutes are not late, and nothing promised is never late', () => {
  expect(lateVisits(at('10:35'), [stop('10:00', '11:00', '10:30')], minutes(15))).toEqual([]);
  expect(lateVisits(at('18:00'), [stop('10:00', '11:00', null)], 0)).toEqual([]);
});
