import type { RoutingProblem } from '../domain/routing/problem.js';
import { RoutingFileFault } from './routingFileFault.js';

/**
 * Solomon's text format (1987), under the DIMACS convention: distances, travel and all times in tenths,
 * `floor(10 × euclid)`; the objective is distance, and all customers must be served.
 *
 * @throws {RoutingFileFault} With the line and what was expected there.
 */
export function parseSolomon(text: string): RoutingProblem {
  const lines = text.split(/\r?\n/);
  const [vehicles, capacity] = numbersAfter(lines, 'VEHICLE', 2, 'the number of vehicles and their capacity');
  const customers = customerRows(lines);
  const [depot, ...rest] = customers;
  if (!depot || rest.length === 0) throw new RoutingFileFault('a depot and at least one customer are needed');
  const size = customers.length;
  const seconds = new Int32Array(size * size);
  customers.forEach((from, a) => {
    customers.forEach((to, b) => {
      seconds[a * size + b] = Math.floor(10 * Math.hypot(from.x - to.x, from.y - to.y));
    });
  });
  return {
    days: ['the day'],
    travel: { size, seconds, metres: new Int32Array(size * size) },
    crewDays: Array.from({ length: vehicles! }, (_, k) => ({
      id: String(k + 1),
      crewId: String(k + 1),
      day: 0,
      startLocation: 0,
      endLocation: 0,
      shiftStartSeconds: depot.ready * 10,
      shiftEndSeconds: depot.due * 10,
      overtimeSeconds: 0,
      overtimePerHour: 0,
      breaks: [],
      kit: [],
      people: 1,
      tankLitres: null,
      wasteLitres: capacity!,
      useCost: 0,
    })),
    orders: rest.map((customer, index) => ({
      id: String(customer.number),
      location: index + 1,
      serviceSeconds: customer.service * 10,
      windows: [{ fromSeconds: customer.ready * 10, toSeconds: customer.due * 10 }],
      needs: [],
      people: 1,
      waterLitres: 0,
      wasteLitres: customer.demand,
      waitingCost: [],
      unplacedCost: null,
      follows: [],
    })),
    sharedKit: [],
    refillSites: [],
    costs: { drivingPerHour: 3600, drivingPerKm: 0 },
  };
}

interface Customer {
  readonly number: number;
  readonly x: number;
  readonly y: number;
  readonly demand: number;
  readonly ready: number;
  readonly due: number;
  readonly service: number;
}

function customerRows(lines: readonly string[]): Customer[] {
  const heading = lines.findIndex((line) => line.trim().startsWith('CUSTOMER'));
  if (heading < 0) throw new RoutingFileFault('no CUSTOMER block');
  const rows: Customer[] = [];
  for (let at = heading + 1; at < lines.length; at++) {
    const line = lines[at]!.trim();
    if (line === '' || /^[A-Z]/i.test(line)) continue;
    const numbers = line.split(/\s+/).map(Number);
    if (numbers.length !== 7 || numbers.some((value) => !Number.isFinite(value))) {
      throw new RoutingFileFault(
        `line ${at + 1}: "${line}" should be seven numbers: number x y demand ready due service`,
      );
    }
    const [number, x, y, demand, ready, due, service] = numbers as [
      number,
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    rows.push({ number, x, y, demand, ready, due, service });
  }
  return rows;
}

/** The first line of numbers after a heading. */
function numbersAfter(lines: readonly string[], heading: string, count: number, what: string): number[] {
  const from = lines.findIndex((line) => line.trim().startsWith(heading));
  if (from < 0) {
    throw new RoutingFileFault(`neither day-plan/1 JSON nor Solomon's text format: no ${heading} block`);
  }
  const at = lines.findIndex((line, index) => index > from && /^\s*\d/.test(line));
  const numbers = (lines[at] ?? '').trim().split(/\s+/).map(Number);
  if (numbers.length !== count || numbers.some((value) => !Number.isInteger(value) || value <= 0)) {
    throw new RoutingFileFault(`line ${at + 1}: expected ${what}`);
  }
  return numbers;
}
