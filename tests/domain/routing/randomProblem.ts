import fc from 'fast-check';
import type { Order, RoutingProblem } from '../../../src/domain/routing/problem.js';
import { crewDay, gridProblem, order } from './problems.js';

const point = fc.tuple(fc.integer({ min: 0, max: 60 }), fc.integer({ min: 0, max: 60 }));
const kinds = ['camera', 'jetter'];

const randomOrder = fc.record({
  place: point,
  serviceSeconds: fc.integer({ min: 0, max: 60 }),
  windows: fc.array(
    fc
      .record({
        from: fc.integer({ min: 0, max: 400 }),
        length: fc.integer({ min: 0, max: 150 }),
        day: fc.option(fc.integer({ min: 0, max: 1 })),
      })
      .map(({ from, length, day }) => ({
        fromSeconds: from,
        toSeconds: from + length,
        ...(day === null ? {} : { day }),
      })),
    { maxLength: 2 },
  ),
  needs: fc.subarray(kinds),
  people: fc.integer({ min: 1, max: 3 }),
  unplacedCost: fc.integer({ min: 0, max: 400 }),
  waitingCost: fc.constantFrom([], [0, 50], [80, 0]),
});

const randomCrew = fc.record({
  place: point,
  day: fc.integer({ min: 0, max: 1 }),
  shiftEndSeconds: fc.integer({ min: 100, max: 500 }),
  overtimeSeconds: fc.constantFrom(0, 60),
  overtimePerHour: fc.constantFrom(0, 7200),
  kit: fc.subarray(kinds),
  people: fc.integer({ min: 2, max: 3 }),
  useCost: fc.constantFrom(0, 0, 30),
});

/** Small problems that brute force can answer: up to `mostOrders` orders on up to two crew-days. */
export const plainProblem = (mostOrders: number) =>
  fc
    .tuple(
      fc.array(randomOrder, { minLength: 1, maxLength: mostOrders }),
      fc.array(randomCrew, { minLength: 1, maxLength: 2 }),
    )
    .map(([orders, crews]): RoutingProblem => {
      const points = [...crews.map((crew) => crew.place), ...orders.map((one) => one.place)];
      return gridProblem(
        points,
        crews.map(({ place: _, ...crew }, v) =>
          crewDay(`c${v}`, { ...crew, startLocation: v, endLocation: v }),
        ),
        orders.map(({ place: _, ...one }, i) => order(`o${i}`, crews.length + i, one)),
      );
    });

const richExtras = fc.record({
  waterLitres: fc.integer({ min: 0, max: 60 }),
  wasteLitres: fc.integer({ min: 0, max: 60 }),
  shared: fc.boolean(),
  closedCrewDays: fc.subarray(['0@0', '1@0', '0@1', '1@1'], { maxLength: 2 }),
  must: fc.boolean(),
  follows: fc.option(
    fc.record({ back: fc.integer({ min: 1, max: 3 }), minDaysBetween: fc.integer({ min: 0, max: 2 }) }),
  ),
  lock: fc.option(
    fc.constantFrom<NonNullable<Order['lock']>>(
      { day: 1 },
      { crewId: 'crew1' },
      { sequence: 1 },
      { sequence: 2 },
      { fromSeconds: 100, toSeconds: 500 },
    ),
    { freq: 4 },
  ),
  accepted: fc.option(
    fc.record({ day: fc.integer({ min: 0, max: 1 }), crewId: fc.constantFrom('crew0', 'crew1') }),
  ),
});

/** Problems with everything in them: breaks, tanks, shared kit, chains, locks, accepted places, crews under way. */
export const richProblem = fc
  .tuple(
    fc.array(fc.tuple(randomOrder, richExtras), { minLength: 1, maxLength: 14 }),
    fc.array(point, { minLength: 2, maxLength: 2 }),
    fc.array(fc.record({ breaks: fc.integer({ min: 0, max: 2 }), underWay: fc.boolean() }), {
      minLength: 4,
      maxLength: 4,
    }),
  )
  .map(([orders, yards, crews]): RoutingProblem => {
    const points = [...yards, ...orders.map(([one]) => one.place)];
    const breaks = [
      { earliestStartSeconds: 150, latestStartSeconds: 220, seconds: 20 },
      { earliestStartSeconds: 380, latestStartSeconds: 450, seconds: 30 },
    ];
    return gridProblem(
      points,
      crews.map((crew, k) =>
        crewDay(`${k % 2}@${Math.floor(k / 2)}`, {
          crewId: `crew${k % 2}`,
          day: Math.floor(k / 2),
          startLocation: k % 2,
          endLocation: 1 - (k % 2),
          shiftEndSeconds: 700,
          overtimeSeconds: 100,
          overtimePerHour: 1800,
          breaks: breaks.slice(0, crew.breaks),
          kit: k % 2 === 0 ? kinds : ['camera'],
          tankLitres: 100,
          wasteLitres: 80,
          ...(crew.underWay && k < 2
            ? { underWay: { location: 2, freeAtSeconds: 180, tankLitresLeft: 40, wasteLitresOnBoard: 30 } }
            : {}),
        }),
      ),
      orders.map(([{ place: _, ...one }, { shared, must, follows, lock, accepted, ...litres }], i) =>
        order(`o${i}`, yards.length + i, {
          ...one,
          ...litres,
          people: 1,
          needs: shared ? ['excavator'] : one.needs,
          unplacedCost: must ? null : one.unplacedCost * 5,
          follows:
            follows && i >= follows.back
              ? [{ orderId: `o${i - follows.back}`, minDaysBetween: follows.minDaysBetween }]
              : [],
          ...(lock ? { lock } : {}),
          ...(accepted ? { accepted: { ...accepted, otherDayCost: 70, otherCrewCost: 30 } } : {}),
        }),
      ),
      {
        days: ['Monday', 'Tuesday'],
        sharedKit: [
          { id: 'digger', kind: 'excavator' },
          { id: 'old digger', kind: 'excavator', crews: ['crew1'], days: [1] },
        ],
        refillSites: [
          { id: 'hydrant', location: 0, seconds: 15, givesWater: true, takesWaste: false },
          { id: 'plant', location: 1, seconds: 20, givesWater: false, takesWaste: true },
        ],
      },
    );
  });
