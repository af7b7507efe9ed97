import { z } from 'zod';
import type { RoutingProblem } from '../domain/routing/problem.js';
import { RoutingFileFault } from './routingFileFault.js';

const index = z.int().min(0);
const seconds = z.int().min(0).max(10_000_000);
const id = z.union([z.string().min(1), z.int().transform(String)]);
const matrix = z.array(z.array(z.int().min(0).max(100_000_000)));

const dayPlan = z.object({
  format: z.literal('day-plan/1'),
  equipmentTypes: z.array(z.string()),
  locations: z.array(z.object({ lat: z.number(), lon: z.number() })),
  crews: z.array(
    z.object({ id, yard: index, shift: z.tuple([seconds, seconds]), equipment: z.array(index) }),
  ),
  jobs: z.array(
    z.object({
      id,
      location: index,
      service: seconds,
      window: z.tuple([seconds, seconds]).nullable(),
      needs: z.array(index),
      penalty: z.int().min(0),
    }),
  ),
  seconds: matrix,
  metres: matrix.optional(),
});

/**
 * One day in the format `day-plan/1`: minimise penalties of jobs left out plus travel seconds.
 *
 * @throws {RoutingFileFault} With the place in the file and what was expected there.
 */
export function parseDayPlan(json: unknown): RoutingProblem {
  const parsed = dayPlan.safeParse(json);
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!;
    throw new RoutingFileFault(`${issue.path.join('.') || 'the file'}: ${issue.message}`);
  }
  const day = parsed.data;
  const size = day.locations.length;
  refuseRepeats(day.crews, 'crews');
  refuseRepeats(day.jobs, 'jobs');
  day.crews.forEach((crew, k) => {
    refuseBeyond(crew.yard, size, `crews.${k}.yard`);
    if (crew.shift[1] < crew.shift[0]) throw new RoutingFileFault(`crews.${k}.shift: ends before it starts`);
  });
  day.jobs.forEach((job, j) => {
    refuseBeyond(job.location, size, `jobs.${j}.location`);
    if (job.window && job.window[1] < job.window[0]) {
      throw new RoutingFileFault(`jobs.${j}.window: ends before it starts`);
    }
  });
  const kit = (indices: number[], where: string) =>
    indices.map((type) => {
      const name = day.equipmentTypes[type];
      if (name === undefined) {
        throw new RoutingFileFault(
          `${where}: equipment ${type} is not one of the ${day.equipmentTypes.length} types`,
        );
      }
      return name;
    });
  return {
    days: ['this day'],
    travel: {
      size,
      seconds: flat(day.seconds, size, 'seconds'),
      metres: day.metres ? flat(day.metres, size, 'metres') : new Int32Array(size * size),
    },
    crewDays: day.crews.map((crew, k) => ({
      id: crew.id,
      crewId: crew.id,
      day: 0,
      startLocation: crew.yard,
      endLocation: crew.yard,
      shiftStartSeconds: crew.shift[0],
      shiftEndSeconds: crew.shift[1],
      overtimeSeconds: 0,
      overtimePerHour: 0,
      breaks: [],
      kit: kit(crew.equipment, `crews.${k}.equipment`),
      people: 1,
      tankLitres: null,
      wasteLitres: null,
      useCost: 0,
    })),
    orders: day.jobs.map((job, j) => ({
      id: job.id,
      location: job.location,
      serviceSeconds: job.service,
      windows: job.window ? [{ fromSeconds: job.window[0], toSeconds: job.window[1] }] : [],
      needs: kit(job.needs, `jobs.${j}.needs`),
      people: 1,
      waterLitres: 0,
      wasteLitres: 0,
      waitingCost: [],
      unplacedCost: job.penalty,
      follows: [],
    })),
    sharedKit: [],
    refillSites: [],
    costs: { drivingPerHour: 3600, drivingPerKm: 0 },
  };
}

function refuseRepeats(rows: readonly { id: string }[], name: string): void {
  const seen = new Set<string>();
  for (const row of rows) {
    if (seen.has(row.id)) throw new RoutingFileFault(`${name}: id ${row.id} is there twice`);
    seen.add(row.id);
  }
}

function refuseBeyond(location: number, size: number, where: string): void {
  if (location >= size)
    throw new RoutingFileFault(`${where}: ${location} is not one of the ${size} locations`);
}

function flat(rows: number[][], size: number, name: string): Int32Array {
  if (rows.length !== size) throw new RoutingFileFault(`${name}: ${rows.length} rows for ${size} locations`);
  const cells = new Int32Array(size * size);
  rows.forEach((row, from) => {
    if (row.length !== size) {
      throw new RoutingFileFault(`${name}.${from}: ${row.length} values for ${size} locations`);
    }
    cells.set(row, from * size);
  });
  return cells;
}
