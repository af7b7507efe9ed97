import { expect, test } from 'vitest';
import { parseRoutingProblem } from '../../src/files/routingProblem.js';

const solomon = `TINY

VEHICLE
NUMBER     CAPACITY
  3         200

CUSTOMER
CUST NO.  XCOORD.   YCOORD.    DEMAND   READY TIME  DUE DATE   SERVICE TIME

    0      40         50          0          0       1236          0
    1      45         68         10        912        967         90
    2      45         70         30        825        870         90
`;

const day = {
  format: 'day-plan/1',
  equipmentTypes: ['jetter', 'camera'],
  locations: [
    { lat: 52, lon: -1 },
    { lat: 52.1, lon: -1 },
  ],
  crews: [{ id: 'C1', yard: 0, shift: [25200, 54000], equipment: [1] }],
  jobs: [{ id: 'J1', location: 1, service: 1800, window: [30000, 36000], needs: [1], penalty: 5000 }],
  seconds: [
    [0, 700],
    [710, 0],
  ],
  metres: [
    [0, 11000],
    [11100, 0],
  ],
};

test('a Solomon file is read in tenths, distances cut off', () => {
  const problem = parseRoutingProblem(solomon);
  // √(5² + 18²) = 18.68 → 186; √(5² + 20²) = 20.61 → 206.
  expect([...problem.travel.seconds.subarray(0, 3)]).toEqual([0, 186, 206]);
  expect(problem.crewDays).toHaveLength(3);
  expect(problem.crewDays[0]).toMatchObject({ id: '1', shiftEndSeconds: 12_360, wasteLitres: 200 });
  expect(problem.orders[0]).toMatchObject({
    id: '1',
    serviceSeconds: 900,
    windows: [{ fromSeconds: 9120, toSeconds: 9670 }],
    wasteLitres: 10,
    unplacedCost: null,
  });
});

test('a byte order mark before the file is passed over', () => {
  expect(parseRoutingProblem(`\uFEFF${JSON.stringify(day)}`).orders).toHaveLength(1);
  expect(parseRoutingProblem(`\uFEFF${solomon}`).orders).toHaveLength(2);
});

test('a day plan is read with kit by name', () => {
  const problem = parseRoutingProblem(JSON.stringify(day));
  expect(problem.crewDays[0]).toMatchObject({ crewId: 'C1', shiftStartSeconds: 25_200, kit: ['camera'] });
  expect(problem.orders[0]).toMatchObject({ needs: ['camera'], unplacedCost: 5000 });
  expect([...problem.travel.seconds]).toEqual([0, 700, 710, 0]);
});

test.each([
  ['', 'the file is empty'],
  ['hello', 'no VEHICLE block'],
  [solomon.replace('912        967', '912'), 'line 11'],
  [solomon.slice(0, solomon.indexOf('CUSTOMER')), 'no CUSTOMER block'],
  [JSON.stringify(day).slice(0, 200), 'not JSON to its end'],
  [JSON.stringify({ ...day, seconds: [[0, 700]] }), 'seconds: 1 rows for 2 locations'],
  [JSON.stringify({ ...day, jobs: [{ ...day.jobs[0], needs: [5] }] }), 'jobs.0.needs: equipment 5'],
  [JSON.stringify({ ...day, jobs: [{ ...day.jobs[0], penalty: -1 }] }), 'jobs.0.penalty'],
  [JSON.stringify({ ...day, jobs: [{ ...day.jobs[0], location: 9 }] }), 'jobs.0.location'],
  [JSON.stringify({ ...day, crews: [day.crews[0], day.crews[0]] }), 'crews: id C1 is there twice'],
  [solomon.replace('    2      45', '    1      45'), 'line 12: number 1 is there twice'],
  [solomon.replace('30        825', '-5        825'), 'line 12: demand -5 should be from 0'],
  [solomon.replace('30        825', '0x10        825'), 'line 12'],
  [solomon.replace('45         70', '400000000         70'), 'line 12: coordinates 400000000 70'],
  [solomon.replace('825        870', '870        825'), 'line 12: due 825 is before ready 870'],
  [solomon.replace('0       1236', '2000       1236'), 'line 10: due 1236 is before ready 2000'],
  [solomon.replace('825        870', '825.25        870'), 'ready 825.25 should be in tenths'],
  [solomon.replace('  3         200', '  3         0x10'), 'line 5: expected the number of vehicles'],
])('a broken file is refused with its place', (text, message) => {
  expect(() => parseRoutingProblem(text)).toThrow(message);
});
