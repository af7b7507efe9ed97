import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import {
  changeSettings,
  type HeldSettings,
  heldSettings,
  type SettingPatch,
} from '../actions/ownerSettings.js';
import type { Role } from '../domain/words.js';
import { DEFAULT_SETTINGS, mostOfTime, type SettingChanges } from '../domain/work/settings.js';
import { STANDING_RECEIVERS } from '../domain/work/waterRules.js';
import { oneLine, refusals, text, timeOfDay } from './shapes.js';
import { versionAsked, write } from './writes.js';

const READERS: readonly Role[] = ['dispatcher', 'owner'];

/** Shares and chances; every other number may be as large as its unit allows. */
const UP_TO_ONE = /^(limits|yearlyPlugRisk)\b|Share|Residue|OverBefore|Chance/;
/** Counts and days; the rest may have a fraction. */
const WHOLE = /Days|Years|perWeek|people|Minor|readingsFor|respondWithin|earlyVisits/;

/** Where nothing at all would leave the night without a date, a visit or a price. */
const ABOVE_ZERO =
  /^(limits|yearlyPlugRisk|hardening|surveys|people|pits)\b|^keeping\..*Days|^intervals\.(minDays|maxDays)|^growth\.factor|^costs\.(visitMinor|plugVisits)|^firstIntervals\..*Days|^digs\.pumpCheckDays/;
/** The least chance or share that is told from none, and the most from certainty. */
const LEAST = 1e-4;

/** Bounds of their own: unit in the name. */
const BOUNDS: Record<string, readonly [least: number, most: number]> = {
  'files.megabytesADay': [1, 1_000_000],
  'routes.leastLegMinutes': [0, 120],
  'routes.overtimeMinutes': [0, 480],
  'routes.overtimeFactor': [1, 5],
  'routes.overtimeGain': [1, 20],
  'routes.crewHourMinor': [0, 10_000_000],
  'routes.kmMinor': [0, 1_000_000],
  'routes.idleMinutes': [0, 1440],
  'routes.breakLatitudeMinutes': [0, 480],
  'routes.refillMinutes': [0, 480],
  'routes.overdueFactor': [1, 20],
  'routes.promiseVisits': [0, 100],
};

const isDayOfYear = (text: string): boolean => {
  // Of a year that is no leap year, so that the day comes every year.
  const day = new Date(`2001-${text}T00:00:00Z`);
  return !Number.isNaN(day.getTime()) && day.toISOString().slice(5, 10) === text;
};

/** The settings as a partial, strict schema: what is not a setting is refused, each number within its bounds. */
function changeable(value: unknown, path: string, groups: 'null_resets' | 'changes_only'): z.ZodType {
  if (Array.isArray(value)) return z.array(z.number().int().min(1).max(3650)).min(1).max(12);
  if (typeof value === 'boolean') return z.boolean();
  if (path.startsWith('papers.')) return oneLine(120, 0);
  if (path === 'discharge.receiver') return z.enum(STANDING_RECEIVERS);
  if (path.startsWith('discharge.')) return text(300);
  if (typeof value === 'string' && value.includes(':')) return timeOfDay;
  if (typeof value === 'string')
    return z
      .string()
      .regex(/^\d\d-\d\d$/, 'is not a day of the year written MM-DD')
      .refine(isDayOfYear, 'is not a day of every year written MM-DD');
  if (typeof value === 'number') {
    const number = WHOLE.test(path) ? z.number().int() : z.number();
    const own = BOUNDS[path];
    if (own) return number.min(own[0]).max(own[1]).describe(`default ${value}`);
    const time = mostOfTime(path);
    const most = path.startsWith('yearlyPlugRisk')
      ? 1 - LEAST
      : UP_TO_ONE.test(path)
        ? 1
        : (time ?? 10_000_000);
    const least = ABOVE_ZERO.test(path) ? (WHOLE.test(path) ? 1 : LEAST) : 0;
    const tooMuch = time === null ? undefined : `is more than ${most} (a hundred years)`;
    return number.min(least).max(most, tooMuch).describe(`default ${value}`);
  }
  const shape = Object.entries(value as object).map(([key, each]) => {
    const part = changeable(each, path === '' ? key : `${path}.${key}`, groups);
    const resets = path === '' && groups === 'null_resets';
    return [key, resets ? part.nullable().optional() : part.optional()] as const;
  });
  return z.strictObject(Object.fromEntries(shape));
}

/** Settings as they would be otherwise: only what differs, each number within its bounds. */
export const otherSettings = changeable(DEFAULT_SETTINGS, '', 'changes_only') as z.ZodType<SettingChanges>;

const patch = changeable(DEFAULT_SETTINGS, '', 'null_resets').meta({
  id: 'SettingsPatch',
  description: 'Only what changes, by group; null puts a group back to its defaults.',
  example: { yearlyPlugRisk: { finished: 0.01 } },
});
const group = z.record(z.string(), z.unknown());
const view = z
  .object({
    settings: z.record(z.string(), group).describe('what the service goes by'),
    changes: z.record(z.string(), group).describe('what differs from the defaults'),
    version: z.number().int(),
  })
  .meta({ id: 'Settings', description: "The owner's settings: limits, risk, intervals, costs, people." });

const etag = ({ version }: HeldSettings) => `"${version}"`;

export function registerSettingRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/settings',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'getSettings',
        summary: "The owner's settings: in force, and what differs from the defaults",
        tags: ['house'],
        response: { 200: view, ...refusals() },
      },
    },
    async (_request, reply) => {
      const held = await heldSettings(house.stores);
      return reply.header('etag', etag(held)).send(held);
    },
  );

  app.patch(
    '/v1/settings',
    {
      config: { roles: ['owner'] },
      schema: {
        operationId: 'changeSettings',
        summary: 'Change settings (If-Match: the ETag you read); the next night goes by them',
        tags: ['house'],
        body: patch,
        response: { 200: view, ...refusals(412, 415, 422, 428) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        await stores.settings.lock();
        versionAsked(request, 'settings', '', (await heldSettings(stores)).version);
        const held = await changeSettings(stores, request.actor, request.body as SettingPatch);
        return { status: 200, body: held, headers: { etag: etag(held) } };
      }),
  );
}
