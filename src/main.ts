import { readFileSync } from 'node:fs';
import { availableParallelism, homedir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { type Logger, pino } from 'pino';
import { turns } from './actions/files/turns.js';
import type { House } from './actions/house.js';
import { plainTools } from './actions/plans/plainTools.js';
import type { PlanTools } from './actions/plans/planTools.js';
import type { Clock } from './actions/ports.js';
import type { Mailer } from './actions/telling/mailer.js';
import type { Config } from './config.js';
import { businessZone } from './domain/calendar/businessZone.js';
import { buildApp, type Readiness } from './http/app.js';
import { loggedError, loggedRequest } from './http/loggedRequest.js';
import { watchFiles } from './jobs/fileWatch.js';
import { lineThreads, threadsFor } from './jobs/lineThreads.js';
import { nightJob, ringAt, watchLeases } from './jobs/night.js';
import { pdfThread } from './jobs/pdfThreads.js';
import { planJob, watchSearches } from './jobs/plans.js';
import { postJobs, watchPost } from './jobs/post.js';
import { threadedSearch } from './jobs/routeThreads.js';
import { watchWhatIfs, whatIfJob } from './jobs/whatIfs.js';
import { migrateJobs, startLongWork, startWorker } from './jobs/worker.js';
import { readAllowed } from './outside/addressRules.js';
import { fileEyes } from './outside/fileEyes.js';
import { folderStore } from './outside/folderStore.js';
import { osrmTravel } from './outside/osrmTravel.js';
import { outgoingCalls } from './outside/outgoing.js';
import { smtpMail } from './outside/smtpMail.js';
import { type EmbeddedPostgres, startEmbedded } from './persistence/embeddedPostgres.js';
import { makeHouse } from './persistence/house.js';
import { migrate } from './persistence/migrate.js';
import { openPool } from './persistence/pool.js';
import { hasStopped } from './persistence/refusals.js';

const ROOT = join(import.meta.dirname, '..');
export const MIGRATIONS = join(ROOT, 'prisma/migrations');
export const VERSION = (JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as { version: string })
  .version;

/** The house with its lights on: database up and migrated, stores ready. */
export interface OpenHouse {
  house: House;
  pool: ReturnType<typeof openPool>;
  log: Logger;
  close(): Promise<void>;
}

/** User's state folder; as root a system folder, since root's home may be closed to the database's own user. */
function defaultDataFolder(): string {
  if (process.getuid?.() === 0) return '/var/lib/openbore';
  return join(process.env['XDG_STATE_HOME'] ?? join(homedir(), '.local/state'), 'openbore');
}

/** The database as it is, embedded or by its address: not migrated. */
export async function openDatabase(
  config: Config,
  log: Logger,
): Promise<{ pool: ReturnType<typeof openPool>; close: () => Promise<void> }> {
  const embedded: EmbeddedPostgres | null = config.DATABASE_URL
    ? null
    : await startEmbedded({ folder: config.OPENBORE_DATA ?? defaultDataFolder(), whenInUse: 'join', log });
  let closing = false;
  const pool = openPool(config.DATABASE_URL ?? embedded?.url() ?? '', {
    onLost: ({ message }) => {
      if (!closing) log.warn({ message }, 'a database connection was lost');
    },
  });
  return {
    pool,
    close: async () => {
      closing = true;
      await pool.end();
      await embedded?.stop();
    },
  };
}

/** Beside the database's own folder, which holds nothing else. */
const filesFolder = (config: Config): string =>
  config.OPENBORE_FILES ?? `${config.OPENBORE_DATA ?? defaultDataFolder()}-files`;

/** Where photographs, clips and documents of these settings are kept. */
export const fileStoreOf = (config: Config) => folderStore(filesFolder(config));

export async function openHouse(
  config: Config,
  log: Logger = pino({ level: config.LOG_LEVEL, serializers: { err: loggedError } }),
  clock: Clock = { now: () => new Date() },
): Promise<OpenHouse> {
  const { pool, close } = await openDatabase(config, log);
  try {
    await migrated(pool, log);
  } catch (error) {
    await close();
    throw error;
  }
  const printer = pdfThread(new URL('./jobs/pdfThread.js', import.meta.url));
  const house = makeHouse(pool, {
    clock,
    zone: businessZone(config.TIME_ZONE),
    units: config.UNITS,
    currency: config.CURRENCY,
    version: VERSION,
    lineWork: (lines) => lineThreads(new URL('./jobs/lineThread.js', import.meta.url), threadsFor(lines)),
    files: { store: fileStoreOf(config), eyes: fileEyes, turns: turns() },
    printer,
  });
  return {
    house,
    pool,
    log,
    close: async () => {
      await printer.close();
      await close();
    },
  };
}

const OPENING_TRIES = 5;
const OPENING_WAIT_MS = 1_000;

/** Migrates; a database that goes away meanwhile, as its owner stopped it in this very moment, has time to come back. */
async function migrated(pool: ReturnType<typeof openPool>, log: Logger): Promise<void> {
  for (let tries = 1; ; tries++) {
    try {
      const applied = await migrate(pool, MIGRATIONS);
      if (applied.length > 0) log.info({ applied }, 'database migrated');
      await migrateJobs(pool, log);
      return;
    } catch (error) {
      if (!hasStopped(error)) throw error;
      if (tries === OPENING_TRIES)
        throw new Error(
          `the database went away while the service was starting: ${(error as Error).message}`,
          {
            cause: error,
          },
        );
      log.warn({ tries }, 'the database went away while the service was starting; trying again');
      await sleep(OPENING_WAIT_MS);
    }
  }
}

/** Routes searched in threads; travel from a table server where one is set. */
export function planTools(config: Config): PlanTools {
  const threads = config.ROUTE_THREADS ?? Math.max(1, Math.min(4, availableParallelism() - 1));
  return {
    search: threadedSearch(threads),
    travel: config.TRAVEL_URL
      ? osrmTravel({
          url: config.TRAVEL_URL,
          profile: config.TRAVEL_PROFILE,
          timeoutMs: config.TRAVEL_SECONDS * 1000,
          outgoing: outgoingCalls({ allowed: readAllowed(config.OUTGOING_ALLOW) }),
        })
      : plainTools.travel,
  };
}

const POST_AT_ONCE = 4;

/** The mail server of the settings; null: none is named. */
export function mailerOf(config: Config): Mailer | null {
  const { MAIL_HOST: host, MAIL_FROM: from, PUBLIC_URL: publicUrl } = config;
  if (host === undefined || from === undefined || publicUrl === undefined) return null;
  const [, name = '', address = ''] = /^(.+) <(.+)>$/.exec(from) ?? [];
  return smtpMail({
    host,
    port: config.MAIL_PORT,
    security: config.MAIL_SECURITY,
    login:
      config.MAIL_USER !== undefined && config.MAIL_SECRET !== undefined
        ? { user: config.MAIL_USER, secret: config.MAIL_SECRET }
        : null,
    from: { name, address },
    publicUrl,
    outgoing: { allowed: readAllowed(config.OUTGOING_ALLOW) },
  });
}

/** Serves until told to stop; requests in flight are finished first. */
export async function serve(
  config: Config,
  open: OpenHouse,
): Promise<{ url: string; stop: () => Promise<void> }> {
  const tools = planTools(config);
  const outgoing = outgoingCalls({ allowed: readAllowed(config.OUTGOING_ALLOW) });
  const posting = { ...open, outgoing, mailer: mailerOf(config) };
  const stops: (() => Promise<void> | void)[] = [];
  const stop = async () => {
    for (const each of stops.toReversed()) await each();
  };
  try {
    const worker = await startLongWork(
      open.pool,
      {
        work: { night: nightJob(open, config, tools), plan: planJob({ ...open, tools }) },
        questions: { what_if: whatIfJob(open) },
      },
      open.log,
    );
    stops.push(() => worker.stop());
    // Apart from the long jobs: a night or a search keeps nobody waiting for word.
    const post = await startWorker(open.pool, postJobs(posting), open.log, POST_AT_ONCE);
    stops.push(() => post.stop());
    const app = await appOf(config, open, { outgoing, tools });
    stops.push(() => app.close());
    for (const watch of [
      watchPost(posting),
      watchLeases(open),
      watchSearches(open),
      watchFiles(open),
      watchWhatIfs(open),
    ])
      stops.push(() => watch.stop());
    if (config.NIGHT === 'on') {
      const bell = ringAt(config.NIGHT_AT, open);
      stops.push(() => bell.stop());
    }
    // Last: who knocks finds everything at work, and nobody finds a door behind which something did not start.
    const url = await app.listen({ host: config.HOST, port: config.PORT });
    return { url, stop };
  } catch (error) {
    await stop();
    throw error;
  }
}

/** A night that failed takes nobody out of service: crews go on with what they have; but it is told here as well. */
async function readiness(house: House): Promise<Readiness> {
  const [night] = await house.stores.rows.page('nightly_run', {
    where: [{ column: 'state', is: 'in', value: ['done', 'failed'] }],
    sort: { column: 'business_day', descending: true },
    limit: 1,
  });
  if (night?.['state'] !== 'failed') return {};
  return {
    failedNight: { businessDay: String(night['business_day']), because: String(night['failed_because']) },
  };
}

/** The HTTP door with what it needs of this process. */
function appOf(
  config: Config,
  open: OpenHouse,
  { outgoing, tools }: { outgoing: ReturnType<typeof outgoingCalls>; tools: PlanTools },
): ReturnType<typeof buildApp> {
  return buildApp(open.house, {
    refusesUrl: outgoing.refuses,
    ...(config.PUBLIC_URL === undefined ? {} : { publicUrl: config.PUBLIC_URL }),
    ...(config.TRUSTED_PROXY === undefined ? {} : { trustedProxy: config.TRUSTED_PROXY }),
    travel: tools.travel,
    logger: {
      level: config.LOG_LEVEL,
      redact: ['req.headers.authorization'],
      serializers: { req: loggedRequest, err: loggedError },
    },
    requestsPerMinute: config.REQUESTS_PER_MINUTE,
    ready: async () => {
      try {
        return await readiness(open.house);
      } catch (error) {
        open.log.warn({ err: error }, 'not ready: the database does not answer');
        return null;
      }
    },
  });
}
