import { z } from 'zod';
import { businessZone } from './domain/calendar/businessZone.js';
import { readAllowed } from './outside/addressRules.js';
import { refusesUrl } from './outside/outgoing.js';

const zone = z.string().refine((name) => {
  try {
    return businessZone(name).name.length > 0;
  } catch {
    return false;
  }
}, 'is not an IANA time zone such as America/Chicago');

const allowed = z.string().refine((text) => {
  try {
    readAllowed(text);
    return true;
  } catch {
    return false;
  }
}, 'is not a list of hosts, addresses and networks such as 127.0.0.1,10.1.0.0/16');

const fields = z.object({
  DATABASE_URL: z.url({ protocol: /^postgres(ql)?$/, error: 'is not a postgresql:// address' }).optional(),
  /** Folder of the embedded database, when DATABASE_URL is not set. */
  OPENBORE_DATA: z.string().min(1).optional(),
  HOST: z.string().min(1).default('127.0.0.1'),
  PORT: z.coerce.number().int().min(0).max(65_535).default(8080),
  TIME_ZONE: zone.default('America/Chicago'),
  CURRENCY: z
    .string()
    .regex(/^[A-Z]{3}$/, 'is not a currency code such as USD')
    .default('USD'),
  UNITS: z.enum(['metric', 'us']).default('us'),
  NIGHT: z.enum(['on', 'off']).default('on'),
  /** Local time at which the night begins. */
  NIGHT_AT: z
    .string()
    .regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'is not a time of day as 02:00')
    .default('02:00'),
  /** How long the night searches for routes. */
  ROUTE_SECONDS: z.coerce.number().min(1).max(600).default(20),
  /** Independent searches at once, a thread each; absent: one less than there are cores, at most four. */
  ROUTE_THREADS: z.coerce.number().int().min(1).max(16).optional(),
  /** Table server that speaks OSRM's HTTP API, as http://127.0.0.1:5000; absent: great-circle travel. */
  TRAVEL_URL: z.url({ protocol: /^https?$/, error: 'is not an http:// address' }).optional(),
  TRAVEL_PROFILE: z
    .string()
    .regex(/^[a-zA-Z0-9_-]+$/, 'is not a profile name')
    .default('driving'),
  TRAVEL_SECONDS: z.coerce.number().min(0.1).max(120).default(10),
  /** Hosts, addresses and networks inside that may be called, also without TLS: `127.0.0.1,travel.internal,10.1.0.0/16`. */
  OUTGOING_ALLOW: allowed.default(''),
  REQUESTS_PER_MINUTE: z.coerce.number().int().min(0).max(1_000_000).default(1200),
  LOG_LEVEL: z.enum(['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent']).default('info'),
});

const schema = fields.superRefine(({ TRAVEL_URL, OUTGOING_ALLOW }, context) => {
  const refused = TRAVEL_URL === undefined ? null : refusesUrl(TRAVEL_URL, readAllowed(OUTGOING_ALLOW));
  if (refused !== null)
    context.addIssue({
      code: 'custom',
      path: ['TRAVEL_URL'],
      message: `cannot be called: ${refused}; OUTGOING_ALLOW names hosts inside that may be`,
    });
});

export type Config = z.infer<typeof schema>;

/**
 * The settings of this process out of its environment.
 * @throws {Error} One message with all faults at once.
 */
export function readConfig(environment: NodeJS.ProcessEnv): Config {
  const filled = Object.fromEntries(Object.entries(environment).filter(([, value]) => value !== ''));
  const parsed = schema.safeParse(filled);
  if (parsed.success) return parsed.data;
  const faults = parsed.error.issues.map((issue) => `  ${issue.path.join('.')}: ${issue.message}`);
  throw new Error(`settings that do not fit:\n${faults.join('\n')}`);
}
