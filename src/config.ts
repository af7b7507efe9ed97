import { readFileSync } from 'node:fs';
import { isIP } from 'node:net';
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

const proxies = z
  .string()
  .refine(
    (text) => text.split(',').every((each) => isNetwork(each.trim())),
    'is not a list of addresses and networks such as 10.0.0.5,10.1.0.0/16',
  );

function isNetwork(text: string): boolean {
  const [address = '', bits, ...more] = text.split('/');
  const version = isIP(address);
  if (version === 0 || more.length > 0) return false;
  return bits === undefined || (/^\d{1,3}$/.test(bits) && Number(bits) <= (version === 4 ? 32 : 128));
}

const fields = z.object({
  DATABASE_URL: z.url({ protocol: /^postgres(ql)?$/, error: 'is not a postgresql:// address' }).optional(),
  /** Folder of the embedded database, when DATABASE_URL is not set. */
  OPENBORE_DATA: z.string().min(1).optional(),
  /** Folder of photographs, clips and documents; absent: the embedded database's folder with `-files` behind its name. */
  OPENBORE_FILES: z.string().min(1).optional(),
  HOST: z.string().min(1).default('127.0.0.1'),
  PORT: z.coerce.number().int().min(0).max(65_535).default(8080),
  /** These three are kept in the database from the first start on; absent: as they are kept. */
  TIME_ZONE: zone.optional(),
  CURRENCY: z
    .string()
    .regex(/^[A-Z]{3}$/, 'is not a currency code such as USD')
    .optional(),
  UNITS: z.enum(['metric', 'us']).optional(),
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
  /** Where the service is reached from outside, as https://drains.example.org: links in mails and calendars. */
  PUBLIC_URL: z
    .url({ protocol: /^https?$/, error: 'is not an https:// address' })
    .transform((url) => url.replace(/\/+$/, ''))
    .optional(),
  /** SMTP server for mails to contacts; absent: no mail is sent. */
  MAIL_HOST: z.string().min(1).max(253).optional(),
  MAIL_PORT: z.coerce.number().int().min(1).max(65_535).default(587),
  MAIL_SECURITY: z.enum(['starttls', 'tls', 'none']).default('starttls'),
  MAIL_USER: z.string().min(1).optional(),
  MAIL_SECRET: z.string().min(1).optional(),
  /** As `Alder Quay Drainworks <office@example.org>`. */
  MAIL_FROM: z
    .string()
    .regex(/^[^<>"\r\n]+ <[^\s<>@]+@[^\s<>@]+>$/, 'is not written as Name <office@example.org>')
    .optional(),
  /** Addresses and networks of proxies whose `X-Forwarded-For` and `X-Request-Id` are believed, as `10.0.0.5,10.1.0.0/16`; absent: nobody's. */
  TRUSTED_PROXY: proxies.optional(),
  REQUESTS_PER_MINUTE: z.coerce.number().int().min(0).max(1_000_000).default(1200),
  LOG_LEVEL: z.enum(['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent']).default('info'),
});

type Fields = Partial<z.infer<typeof fields>>;

/** What is missing or does not fit where a mail server is named. */
function mailFaults(mail: Fields, isGiven: (name: string) => boolean): [string, string][] {
  if (mail.MAIL_HOST === undefined) return [];
  const faults: [string, string][] = [];
  if (!isGiven('MAIL_FROM')) faults.push(['MAIL_FROM', 'is needed with MAIL_HOST']);
  if (!isGiven('PUBLIC_URL')) faults.push(['PUBLIC_URL', 'is needed with MAIL_HOST: mails link to it']);
  if ((mail.MAIL_USER === undefined) !== (mail.MAIL_SECRET === undefined))
    faults.push(['MAIL_USER', 'and MAIL_SECRET go together']);
  if (mail.MAIL_SECURITY === 'none' && !readAllowed(mail.OUTGOING_ALLOW ?? '').host(mail.MAIL_HOST))
    faults.push(['MAIL_SECURITY', 'none is for a MAIL_HOST that OUTGOING_ALLOW names']);
  return faults;
}

/** Where settings do not go together, of those that fit by themselves. */
function faultsTogether(all: Fields, isGiven: (name: string) => boolean): [string, string][] {
  const { TRAVEL_URL, OUTGOING_ALLOW } = all;
  const refused = TRAVEL_URL === undefined ? null : refusesUrl(TRAVEL_URL, readAllowed(OUTGOING_ALLOW ?? ''));
  return [
    ...(refused === null
      ? []
      : [
          [
            'TRAVEL_URL',
            `cannot be called: ${refused}; OUTGOING_ALLOW names hosts inside that may be`,
          ] satisfies [string, string],
        ]),
    ...mailFaults(all, isGiven),
  ];
}

export type Config = z.infer<typeof fields>;

/**
 * The settings of this process out of its environment.
 *
 * @param keepsFiles Whether it works with photographs and papers: beside a database of its own they need a folder of their own.
 * @throws {Error} One message with all faults at once.
 */
export function readConfig(
  environment: NodeJS.ProcessEnv,
  { keepsFiles = false }: { keepsFiles?: boolean } = {},
): Config {
  const { filled, faults: secretFaults } = withSecrets(
    Object.fromEntries(Object.entries(environment).filter(([, value]) => value !== '')),
  );
  const parsed = fields.safeParse(filled);
  const fitting: Record<string, unknown> = {};
  for (const [name, field] of Object.entries(fields.shape)) {
    const { success, data } = field.safeParse(filled[name]);
    if (success) fitting[name] = data;
  }
  const blank = Object.keys(fields.shape).filter((name) => /^\s+$/.test(filled[name] ?? ''));
  const faults = [
    ...secretFaults,
    ...blank.map((name) => `${name}: is blank`),
    ...(keepsFiles && filled['DATABASE_URL'] !== undefined && filled['OPENBORE_FILES'] === undefined
      ? [
          'OPENBORE_FILES: is needed with DATABASE_URL: the folder of photographs and papers of this business alone',
        ]
      : []),
    ...(parsed.error?.issues ?? []).map((issue) => `${issue.path.join('.')}: ${issue.message}`),
    ...faultsTogether(fitting as Fields, (name) => filled[name] !== undefined).map(
      ([name, message]) => `${name}: ${message}`,
    ),
  ];
  if (parsed.success && faults.length === 0) return parsed.data;
  throw new Error(`settings that do not fit:\n${faults.map((fault) => `  ${fault}`).join('\n')}`);
}

/** Settings that hold a secret: `NAME_FILE` names a file with it instead, which no list of processes and no dump shows. */
const SECRETS = ['DATABASE_URL', 'MAIL_SECRET'] as const;
const FILE_NAMES = SECRETS.map((name) => `${name}_FILE`);

/** The settings with what their files hold, without the break at its end, and what is wrong with these. */
function withSecrets(given: NodeJS.ProcessEnv): { filled: NodeJS.ProcessEnv; faults: string[] } {
  const filled = { ...given };
  const faults: string[] = [];
  for (const name of SECRETS) {
    const file = given[`${name}_FILE`];
    if (file === undefined) continue;
    if (given[name] !== undefined) {
      faults.push(`${name}_FILE: and ${name} are both given: one of them`);
      continue;
    }
    try {
      const secret = readFileSync(file, 'utf8').replace(/\r?\n$/, '');
      if (secret === '') faults.push(`${name}_FILE: ${file} is empty`);
      else filled[name] = secret;
    } catch (error) {
      faults.push(`${name}_FILE: cannot be read: ${(error as Error).message}`);
    }
  }
  return { filled, faults };
}

/** Names that are none of ours, and so near to one that it was meant: a swapped, left out or wrong letter. */
export function nearMisses(environment: NodeJS.ProcessEnv): { name: string; meant: string }[] {
  const ours = [...Object.keys(fields.shape), ...FILE_NAMES];
  const bare = (name: string) => name.replaceAll('_', '').toUpperCase();
  return Object.keys(environment).flatMap((name) => {
    if (ours.includes(name) || name.length < 5) return [];
    const meant = ours.find((each) => bare(each) === bare(name) || isOneSlip(each, name.toUpperCase()));
    return meant === undefined ? [] : [{ name, meant }];
  });
}

/** Whether two words differ by one letter more, less or other, or two that changed places. */
function isOneSlip(a: string, b: string): boolean {
  if (Math.abs(a.length - b.length) > 1) return false;
  let from = 0;
  while (from < a.length && a[from] === b[from]) from++;
  let [endA, endB] = [a.length, b.length];
  while (endA > from && endB > from && a[endA - 1] === b[endB - 1]) {
    endA--;
    endB--;
  }
  const [restA, restB] = [a.slice(from, endA), b.slice(from, endB)];
  if (restA.length <= 1 && restB.length <= 1) return true;
  return restA.length === 2 && restA[0] === restB[1] && restA[1] === restB[0];
}
