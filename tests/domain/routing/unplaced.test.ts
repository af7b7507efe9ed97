import { expect, test } from 'vitest';
import { afterIterations } from '../../../src/domain/routing/budget.js';
import { cheapestPlaces, soonestPlace } from '../../../src/domain/routing/cheapestPlaces.js';
import type { CrewDay, Order } from '../../../src/domain/routing/problem.js';
import { solve } from '../../../src/domain/routing/solve.js';
import { crewDay, gridProblem, order } from './problems.js';

const points = [
  [0, 0],
  [10, 0],
  [900, 0],
  [12, 0],
] as const;

function whyNot(crews: readonly CrewDay[], orders: readonly Order[], id: string, rest = {}) {
  const plan = solve(gridProblem(points, crews, orders, rest), { seed: 1, stop: afterIterations(100) });
  const left = plan.unplaced.find((one) => one.orderId === id);
  return left && { code: left.code, text: left.text, place: left.cheapestPlace };
}

test('no crew with the kit on the only day it may be done', () => {
  const dig = order('x', 1, { needs: ['excavator'], lock: { day: 3 } });
  const left = whyNot([crewDay('a', { day: 3 })], [dig], 'x');
  expect(left).toEqual({ code: 'no_kit', text: 'no crew with an excavator on Thursday', place: null });
});

test('too few people, a day without crews, a crew that is not allowed', () => {
  expect(whyNot([crewDay('a')], [order('x', 1, { people: 3 })], 'x')?.text).toBe(
    'no crew of 3 people on any day',
  );
  expect(whyNot([crewDay('a')], [order('x', 1, { lock: { day: 2 } })], 'x')?.text).toBe(
    'no crew works on Wednesday',
  );
  expect(whyNot([crewDay('a')], [order('x', 1, { onlyCrews: ['b'] })], 'x')?.code).toBe('crew_not_allowed');
});

test('a closed season shuts one depot, not the others', () => {
  const dig = order('x', 1, { needs: ['excavator'], closedCrewDays: ['a'] });
  const north = crewDay('a', { kit: ['excavator'], day: 3 });
  expect(whyNot([north, crewDay('b', { day: 3 })], [dig], 'x')).toMatchObject({ code: 'closed_season' });
  expect(whyNot([north, crewDay('b', { day: 3, kit: ['excavator'] })], [dig], 'x')).toBeUndefined();
});

test('hours that end too early, work longer than a shift, a tank too small', () => {
  const early = order('x', 2, { windows: [{ fromSeconds: 0, toSeconds: 300 }] });
  expect(whyNot([crewDay('a')], [early], 'x')?.code).toBe('window_closed');
  expect(whyNot([crewDay('a')], [order('x', 1, { serviceSeconds: 1010 })], 'x')?.code).toBe(
    'shift_too_short',
  );
  const thirsty = order('x', 1, { waterLitres: 200 });
  expect(whyNot([crewDay('a', { tankLitres: 100 })], [thirsty], 'x')?.code).toBe('tank_too_small');
});

test('too far, hours that begin too late, a break that cannot begin, an empty tank', () => {
  const far = order('x', 2, { serviceSeconds: 300 });
  // 900 there and 900 back are half an hour.
  expect(whyNot([crewDay('a')], [far], 'x')).toMatchObject({
    code: 'too_far',
    text: 'with 0 h 30 min of driving it does not fit into the shift of any able crew on any day',
  });
  const evening = order('x', 1, { windows: [{ fromSeconds: 985, toSeconds: 1000 }] });
  expect(whyNot([crewDay('a')], [evening], 'x')).toMatchObject({
    code: 'window_closed',
    text: 'its hours begin too late for any able crew to be home in time on any day',
  });
  const onTheWay = [{ earliestStartSeconds: 100, latestStartSeconds: 500, seconds: 60 }];
  const sharp = order('x', 2, { windows: [{ fromSeconds: 900, toSeconds: 900 }] });
  expect(whyNot([crewDay('a', { breaks: onTheWay, shiftEndSeconds: 5000 })], [sharp], 'x')).toMatchObject({
    code: 'no_time_for_break',
    text: 'no able crew could take its break at its time on any day',
  });
  const underWay = { location: 0, freeAtSeconds: 100, tankLitresLeft: 10, wasteLitresOnBoard: 0 };
  const thirsty = order('x', 1, { waterLitres: 50 });
  expect(whyNot([crewDay('a', { tankLitres: 100, underWay })], [thirsty], 'x')?.code).toBe('tank_too_small');
});

test('what would fit and costs more says so, although making room would be cheaper still', () => {
  const orders = [
    order('x', 1, { unplacedCost: 100 }),
    order('z', 1, { unplacedCost: 120, serviceSeconds: 975 }),
  ];
  // Crew a would drive 890 there and 890 back for x; b is at work on z all its shift, which is 120 to leave.
  const crews = [
    crewDay('a', { startLocation: 2, endLocation: 2, shiftEndSeconds: 2000 }),
    crewDay('b', { people: 3 }),
  ];
  const left = whyNot(crews, orders, 'x');
  expect(left).toMatchObject({
    code: 'costs_more_than_waiting',
    place: { crewDayId: 'b', displaces: ['z'], extraCost: 120 },
  });
});

test('an order waits for the one it follows', () => {
  const dig = order('dig', 1, { needs: ['excavator'] });
  const lawn = order('lawn', 1, { follows: [{ orderId: 'dig', minDaysBetween: 0 }] });
  expect(whyNot([crewDay('a')], [dig, lawn], 'lawn')?.text).toBe('must follow dig, which is not placed');
  const soon = order('lawn', 1, { follows: [{ orderId: 'dig', minDaysBetween: 2 }] });
  const crews = [crewDay('a', { kit: ['excavator'] }), crewDay('b', { day: 1, kit: ['excavator'] })];
  expect(whyNot(crews, [dig, soon], 'lawn')?.code).toBe('too_soon_after_predecessor');
});

test('days between are calendar days: from Friday to Monday are three', () => {
  const dig = order('dig', 1, { lock: { day: 0 } });
  const lawn = (minDaysBetween: number) =>
    order('lawn', 1, { follows: [{ orderId: 'dig', minDaysBetween }] });
  const crews = [crewDay('fri', { day: 0 }), crewDay('mon', { day: 1 })];
  const week = { days: ['Friday', 'Monday'], calendarDays: [4, 7] };
  expect(whyNot(crews, [dig, lawn(3)], 'lawn', week)).toBeUndefined();
  expect(whyNot(crews, [dig, lawn(4)], 'lawn', week)?.code).toBe('too_soon_after_predecessor');
});

test('the one excavator is with another crew', () => {
  const digs = ['x', 'y'].map((id, i) =>
    order(id, 1, { needs: ['excavator'], serviceSeconds: 900, unplacedCost: 1000 + i }),
  );
  const left = whyNot([crewDay('a'), crewDay('b')], digs, 'x', {
    sharedKit: [{ id: 'digger', kind: 'excavator' }],
  });
  expect(left?.code).toBe('shared_kit_taken');
});

test('no time left: the cheapest place says who would have to give way', () => {
  const orders = [
    order('cheap', 1, { serviceSeconds: 400, unplacedCost: 500 }),
    order('dear', 1, { serviceSeconds: 400, unplacedCost: 900 }),
    order('late', 1, { serviceSeconds: 400, unplacedCost: 300 }),
  ];
  const left = whyNot([crewDay('a')], orders, 'late');
  expect(left?.text).toBe('no time left on a crew on any day');
  // Same address: no extra driving, but `cheap` would be left out for 500.
  expect(left?.place).toMatchObject({ crewDayId: 'a', displaces: ['cheap'], extraCost: 500 });
});

test('serving it would cost more than leaving it', () => {
  const left = whyNot(
    [crewDay('a', { shiftEndSeconds: 5000 })],
    [order('x', 2, { unplacedCost: 1000 })],
    'x',
  );
  // 900 there and 900 back.
  expect(left).toMatchObject({ code: 'costs_more_than_waiting', place: { extraCost: 1800, displaces: [] } });
});

test('an emergency is offered its cheapest places, one per crew-day', () => {
  const orders = [order('x', 1), order('y', 2), order('call', 3)];
  const crews = [crewDay('a', { shiftEndSeconds: 5000 }), crewDay('b', { startLocation: 2, endLocation: 2 })];
  const { places } = cheapestPlaces(
    gridProblem(points, crews, orders),
    [
      { crewDayId: 'a', orderIds: ['x'] },
      { crewDayId: 'b', orderIds: ['y'] },
    ],
    'call',
    3,
  );
  // Beyond x on the way out and back: 2 + 12 − 10 more. Crew b would drive 888 twice, longer than its shift.
  expect(places).toHaveLength(1);
  expect(places[0]).toMatchObject({ crewDayId: 'a', extraCost: 4, displaces: [] });
});

test('the cheapest place never displaces what the order must follow, however far back', () => {
  const link = (orderId: string) => ({ follows: [{ orderId, minDaysBetween: 0 }] });
  const dig = order('dig', 1, { serviceSeconds: 50, unplacedCost: 900 });
  const inspect = order('inspect', 1, { serviceSeconds: 500, unplacedCost: 200, ...link('dig') });
  const lawn = order('lawn', 1, { serviceSeconds: 400, unplacedCost: 100, ...link('inspect') });
  const other = order('other', 3, { serviceSeconds: 350, unplacedCost: 950 });
  // 1000 s of shift: dig and inspect take 550, the other 350, 24 are driven. Inspect would be cheaper to displace.
  expect(whyNot([crewDay('a')], [dig, inspect, lawn, other], 'lawn')?.place).toMatchObject({
    displaces: ['other'],
  });
  expect(whyNot([crewDay('a', { shiftEndSeconds: 600 })], [dig, inspect, lawn], 'lawn')?.place).toBeNull();
});

test('a stop its crew can no longer make takes no room on other days', () => {
  const behind = crewDay('a', {
    shiftEndSeconds: 1000,
    underWay: { location: 1, freeAtSeconds: 950, tankLitresLeft: 0, wasteLitresOnBoard: 0 },
  });
  const orders = [order('x', 1, { serviceSeconds: 300 }), order('call', 3, { serviceSeconds: 800 })];
  const { places } = cheapestPlaces(
    gridProblem(points, [behind, crewDay('b', { day: 1 })], orders),
    [{ crewDayId: 'a', orderIds: ['x'] }],
    'call',
    3,
  );
  // 12 there, 800 of work and 12 back are 824 of 1000: there is room for it on Tuesday, not for both.
  expect(places).toMatchObject([{ crewDayId: 'b', afterOrderId: null, displaces: [], extraCost: 24 }]);
});

test('an order gives way to its own rank and above, never to a lower one', () => {
  const placesFor = (rank: number) =>
    cheapestPlaces(
      gridProblem(
        points,
        [crewDay('a')],
        [
          order('flood', 1, { serviceSeconds: 700, unplacedCost: 10, rank: 6 }),
          order('call', 3, { serviceSeconds: 700, rank }),
        ],
      ),
      [{ crewDayId: 'a', orderIds: ['flood'] }],
      'call',
      3,
    );
  expect(placesFor(2)).toMatchObject({ places: [], nowhere: { code: 'no_time_left' } });
  expect(placesFor(6).places).toMatchObject([{ displaces: ['flood'] }]);
});

test('a call nobody can answer in time is told the soonest place after it', () => {
  const hours = [{ day: 0, fromSeconds: 0, toSeconds: 300 }];
  const problem = gridProblem(
    points,
    [crewDay('a'), crewDay('b', { startLocation: 2 })],
    [
      order('x', 1, { serviceSeconds: 400, rank: 6, lock: { toSeconds: 10 } }),
      order('call', 3, { windows: hours, rank: 6 }),
    ],
  );
  const start = [{ crewDayId: 'a', orderIds: ['x'] }];
  expect(cheapestPlaces(problem, start, 'call', 3).places).toEqual([]);
  // After x at 10 + 400, two further on: 412. Crew b comes from 888 away.
  expect(soonestPlace(problem, start, 'call')).toMatchObject({ afterOrderId: 'x', startSeconds: 412 });
});
