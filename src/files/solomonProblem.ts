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
      shiftStartSeconds: tenths(depot.ready),
      shiftEndSeconds: tenths(depot.due),
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
      serviceSeconds: tenths(customer.service),
      windows: [{ fromSeconds: tenths(customer.ready), toSeconds: tenths(customer.due) }],
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

const tenths = (value: number): number => Math.round(value * 10);

interface Customer {
  readonly number: number;
  readonly x: number;
  readonly y: number;
  readonly demand: number;
  readonly ready: number;
  readonly due: number;
  readonly service: number;
}

/** Farther or later than this no instance goes, and travel in tenths still fits into 32 bits. */
const MOST = 1_000_000;
const MOST_VEHICLES = 10_000;
const DECIMAL = /^[+-]?\d+(\.\d*)?(e[+-]?\d+)?$/i;

function customerRows(lines: readonly string[]): Customer[] {
  const heading = lines.findIndex((line) => line.trim().startsWith('CUSTOMER'));
  if (heading < 0) throw new RoutingFileFault('no CUSTOMER block');
  const rows: Customer[] = [];
  const seen = new Set<number>();
  for (let at = heading + 1; at < lines.length; at++) {
    const line = lines[at]!.trim();
    if (line === '' || /^[A-Z]/i.test(line)) continue;
    const numbers = decimals(line);
    if (numbers.length !== 7 || numbers.some(Number.isNaN)) {
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
    const customer = { number, x, y, demand, ready, due, service };
    const fault = seen.has(number) ? `number ${number} is there twice` : faultOf(customer);
    if (fault !== null) throw new RoutingFileFault(`line ${at + 1}: ${fault}`);
    seen.add(number);
    rows.push(customer);
  }
  return rows;
}

/** Decimal numbers of a line; NaN for what is none, also where JavaScript would read one. */
const decimals = (line: string): number[] =>
  line
    .trim()
    .split(/\s+/)
    .map((text) => (DECIMAL.test(text) ? Number(text) : NaN));

function faultOf(customer: Customer): string | null {
  const { x, y, ready, due } = customer;
  if (!(Number.isInteger(customer.number) && customer.number >= 0))
    return `number ${customer.number} should be a whole number from 0`;
  if (Math.abs(x) > MOST || Math.abs(y) > MOST) return `coordinates ${x} ${y} should lie within ${MOST} of 0`;
  for (const name of ['demand', 'ready', 'due', 'service'] as const) {
    const value = customer[name];
    if (!(value >= 0 && value <= MOST)) return `${name} ${value} should be from 0 to ${MOST}`;
    if (Math.abs(value * 10 - Math.round(value * 10)) > 1e-6) return `${name} ${value} should be in tenths`;
  }
  return due < ready ? `due ${due} is before ready ${ready}` : null;
}

/** The first line of numbers after a heading. */
function numbersAfter(lines: readonly string[], heading: string, count: number, what: string): number[] {
  const from = lines.findIndex((line) => line.trim().startsWith(heading));
  if (from < 0) {
    throw new RoutingFileFault(`neither day-plan/1 JSON nor Solomon's text format: no ${heading} block`);
  }
  const at = lines.findIndex((line, index) => index > from && /^\s*\d/.test(line));
  const numbers = decimals(lines[at] ?? '');
  if (numbers.length !== count || numbers.some((value) => !Number.isInteger(value) || value <= 0)) {
    throw new RoutingFileFault(`line ${at + 1}: expected ${what}`);
  }
  if (numbers[0]! > MOST_VEHICLES)
    throw new RoutingFileFault(`line ${at + 1}: ${numbers[0]} vehicles are more than ${MOST_VEHICLES}`);
  return numbers;
}
