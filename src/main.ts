import { readFileSync } from 'node:fs';
import { availableParallelism, homedir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { type Logger, pino } from 'pino';
import type { FileStore } from './actions/files/fileStore.js';
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
import { counted, newVitals, type Vitals } from './jobs/vitals.js';
import { watchWhatIfs, whatIfJob } from './jobs/whatIfs.js';
import { migrateJobs, startLongWork, startWorker } from './jobs/worker.js';
import { readAllowed } from './outside/addressRules.js';
import { fileEyes } from './outside/fileEyes.js';
import { claimFolder, markOf } from './outside/folderMark.js';
import { folderStore } from './outside/folderStore.js';
import { freeBytes } from './outside/freeBytes.js';
import { osrmTravel } from './outside/osrmTravel.js';
import { outgoingCalls } from './outside/outgoing.js';
import { smtpMail } from './outside/smtpMail.js';
import { type EmbeddedPostgres, startEmbedded } from './persistence/embeddedPostgres.js';
import { poolGauges, readGauges } from './persistence/gauges.js';
import { makeHouse } from './persistence/house.js';
import { type HouseFaces, type KeptHouse, settleHouse, someFileKeys } from './persistence/keptHouse.js';
import { migrate, standing } from './persistence/migrate.js';
import { openPool } from './persistence/pool.js';
import { hasStopped } from './persistence/refusals.js';

const ROOT = join(import.meta.dirname, '..');
export const MIGRATIONS = join(ROOT, 'prisma/migrations');
export const VERSION = (JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as { version: string })
  .version;

type Pool = ReturnType<typeof openPool>;

/** The house with its lights on: database up and of this release, stores ready. */
export interface OpenHouse {
  house: House;
  pool: Pool;
  log: Logger;
  /** The same house on other connections, and where they lead. */
  houseOn(pool: Pool): House;
  url: string;
  kept: KeptHouse;
  /** Whether photographs and papers have the folder they should; true where none is set. */
  hasFiles(): Promise<boolean>;
  close(): Promise<void>;
}

/** Connections of a process: for its work, for requests, for who asks how it is. */
const CONNECTIONS = { work: 14, requests: 16, watch: 2 };
/** A command waits longer for a connection than somebody who asks for a page. */
const WORK_CONNECT_MS = 30_000;
const REQUEST_CONNECT_MS = 5_000;
/** Behind the time limit of a statement, so that the server's own word comes first. */
const REQUEST_ANSWER_MS = 65_000;
/** Who looks whether it is ready is told within it. */
const READY_MS = 2_000;

/** User's state folder; as root a system folder, since root's home may be closed to the database's own user. */
function defaultDataFolder(): string {
  if (process.getuid?.() === 0) return '/var/lib/openbore';
  return join(process.env['XDG_STATE_HOME'] ?? join(homedir(), '.local/state'), 'openbore');
}

/** The database as it is, embedded or by its address: not migrated. */
export async function openDatabase(
  config: Config,
  log: Logger,
): Promise<{ pool: Pool; url: string; close: () => Promise<void> }> {
  const embedded: EmbeddedPostgres | null = config.DATABASE_URL
    ? null
    : await startEmbedded({ folder: config.OPENBORE_DATA ?? defaultDataFolder(), whenInUse: 'join', log });
  let closing = false;
  const url = config.DATABASE_URL ?? embedded?.url() ?? '';
  const pool = openPool(url, {
    connections: CONNECTIONS.work,
    connectMs: WORK_CONNECT_MS,
    onLost: ({ message }) => {
      if (!closing) log.warn({ message }, 'a database connection was lost');
    },
  });
  return {
    pool,
    url,
    close: async () => {
      closing = true;
      await Promise.race([pool.end(), sleep(POOL_END_MS, undefined, { ref: false })]);
      await embedded?.stop();
    },
  };
}

/** Of work that was given up, a connection may never come back. */
const POOL_END_MS = 5_000;

/** Beside the embedded database's own folder, which holds nothing else; null: a database elsewhere, and none is named. */
function filesFolder(config: Config): string | null {
  if (config.OPENBORE_FILES !== undefined) return config.OPENBORE_FILES;
  return config.DATABASE_URL === undefined ? `${config.OPENBORE_DATA ?? defaultDataFolder()}-files` : null;
}

/**
 * Where photographs, clips and documents of these settings are kept, and the store in it.
 * @throws {Error} They name none.
 */
export function filesOfConfig(config: Config): { folder: string; store: FileStore } {
  const folder = filesFolder(config);
  if (folder === null) throw new Error('OPENBORE_FILES: is needed with DATABASE_URL');
  return { folder, store: folderStore(folder) };
}

/** What the settings say of what a business is kept in. */
export const saidOf = ({ TIME_ZONE, CURRENCY, UNITS }: Config): Partial<HouseFaces> => ({
  ...(TIME_ZONE === undefined ? {} : { timeZone: TIME_ZONE }),
  ...(CURRENCY === undefined ? {} : { currency: CURRENCY }),
  ...(UNITS === undefined ? {} : { units: UNITS }),
});

export interface Opening {
  log?: Logger;
  clock?: Clock;
  /** A command neither migrates a database that others may be at work on, nor looks into the folder of files. */
  as?: 'service' | 'command';
  /** Takes settings and folder as they are set, where they are otherwise than kept. */
  asSet?: boolean;
}

export async function openHouse(config: Config, opening: Opening = {}): Promise<OpenHouse> {
  const { clock = { now: () => new Date() }, as = 'service', asSet = false } = opening;
  const log = opening.log ?? pino({ level: config.LOG_LEVEL, serializers: { err: loggedError } });
  const { pool, url, close } = await openDatabase(config, log);
  const folder = filesFolder(config);
  let kept: KeptHouse;
  try {
    if (as === 'service') await migrated(pool, log);
    else await current(pool, log);
    kept = await settled(config, pool, log, asSet);
    if (as === 'service' && folder !== null)
      await claimFolder(folder, kept.id, { keys: await someFileKeys(pool), asSet });
  } catch (error) {
    await close();
    throw error;
  }
  const hasFiles = async () => folder === null || (await markOf(folder)) === kept.id;
  const printer = pdfThread(new URL('./jobs/pdfThread.js', import.meta.url));
  const facts = {
    clock,
    zone: businessZone(kept.timeZone),
    units: kept.units,
    currency: kept.currency,
    version: VERSION,
    lineWork: (lines: number) =>
      lineThreads(new URL('./jobs/lineThread.js', import.meta.url), threadsFor(lines)),
    ...(folder === null
      ? {}
      : { files: { store: folderStore(folder, hasFiles), eyes: fileEyes, turns: turns() } }),
    printer,
  };
  const houseOn = (other: Pool) => makeHouse(other, facts);
  return {
    house: houseOn(pool),
    pool,
    log,
    houseOn,
    url,
    kept,
    hasFiles,
    close: async () => {
      try {
        await printer.close();
      } finally {
        await close();
      }
    },
  };
}

async function settled(config: Config, pool: Pool, log: Logger, asSet: boolean): Promise<KeptHouse> {
  const { taken, ...kept } = await settleHouse(pool, saidOf(config), { asSet });
  if (taken.length > 0) log.warn({ notSet: taken, kept }, 'taken as the business is kept from now on');
  if (kept.postHeldSince !== null)
    log.warn(
      { since: kept.postHeldSince },
      'this base was restored: no webhook and no mail goes out until `npm run restore -- --live` says that it is the real one',
    );
  return kept;
}

/** An empty database is brought to this release, one of it gets its queue where it has none; one of another is left as it is. */
async function current(pool: Pool, log: Logger): Promise<void> {
  const { empty, missing, ahead } = await standing(pool, MIGRATIONS);
  if (empty) return migrated(pool, log);
  if (ahead !== null)
    throw new Error(
      `the database is ahead of this release: it has migration ${ahead}. Use the newer release`,
    );
  if (missing.length > 0)
    throw new Error(
      `the database is of an earlier release (it lacks ${missing.length} migrations from ${missing[0]} on): ` +
        'back it up with that release, then `npm run migrate`, or start the service, which migrates',
    );
  // A backup holds no queue: a base just restored, that nothing served yet, is without its tables.
  const { rows } = await pool.query("SELECT to_regclass('graphile_worker.jobs') IS NULL AS missing");
  if (rows[0]?.missing === true) await migrateJobs(pool, log);
}

const OPENING_TRIES = 5;
const OPENING_WAIT_MS = 1_000;

/** Migrates; a database that goes away meanwhile, as its owner stopped it in this very moment, has time to come back. */
async function migrated(pool: Pool, log: Logger): Promise<void> {
  for (let tries = 1; ; tries++) {
    try {
      const applied = await migrate(pool, MIGRATIONS, {
        onWait: (name, times) =>
          log.warn({ name, times }, 'others hold what a migration needs: trying again'),
      });
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

const STOP_REQUESTS_MS = 15_000;

/** Serves until told to stop; requests in flight are finished first, long work is handed back. */
export async function serve(
  config: Config,
  open: OpenHouse,
): Promise<{ url: string; stop: () => Promise<void> }> {
  const tools = planTools(config);
  const outgoing = outgoingCalls({ allowed: readAllowed(config.OUTGOING_ALLOW) });
  const posting = { ...open, outgoing, mailer: mailerOf(config) };
  const pools = requestPools(open);
  const vitals = newVitals();
  const watched = { ...open, vitals };
  const ticking: { stop: () => void }[] = [];
  // What takes time to end, all at once; then what it rested on.
  const working: (() => Promise<void>)[] = [];
  const stop = async () => {
    for (const each of ticking) each.stop();
    for (const ended of await Promise.allSettled(working.map((end) => end())))
      if (ended.status === 'rejected')
        open.log.warn({ err: ended.reason }, 'a part of the service did not end in order');
    await Promise.race([pools.end(), sleep(POOL_END_MS, undefined, { ref: false })]);
  };
  try {
    const worker = await startLongWork(
      open.pool,
      {
        work: counted(
          { night: nightJob(watched, config, tools), plan: planJob({ ...watched, tools }) },
          vitals,
        ),
        questions: counted({ what_if: whatIfJob(watched) }, vitals),
      },
      open.log,
    );
    working.push(() => worker.stop());
    // Apart from the long jobs: a night or a search keeps nobody waiting for word.
    const post = await startWorker(open.pool, postJobs(posting), open.log, POST_AT_ONCE);
    working.push(() => post.stop());
    const app = await appOf(config, open, { outgoing, tools, pools, vitals });
    const closed = async () => {
      await app.drain();
      await app.close();
    };
    working.push(() => Promise.race([closed(), sleep(STOP_REQUESTS_MS, undefined, { ref: false })]));
    ticking.push(watchPost(posting), watchLeases(open), watchSearches(open), watchWhatIfs(open));
    if (config.NIGHT === 'on') ticking.push(ringAt(config.NIGHT_AT, open));
    await app.ready();
    app.documentTexts();
    // Last: who knocks finds everything at work, and nobody finds a door behind which something did not start.
    const url = await app.listen({ host: config.HOST, port: config.PORT });
    if (open.house.files) ticking.push(watchFiles(open));
    return { url, stop };
  } catch (error) {
    await stop();
    throw error;
  }
}

interface RequestPools {
  requests: Pool;
  watch: Pool;
  end(): Promise<void>;
}

/** Apart from the work's: no flood of requests keeps a night from saying that it lives, and none keeps /ready waiting. */
function requestPools({ url, log }: OpenHouse): RequestPools {
  let ending = false;
  const onLost = ({ message }: Error) => {
    if (!ending) log.warn({ message }, 'a database connection was lost');
  };
  const requests = openPool(url, {
    connections: CONNECTIONS.requests,
    connectMs: REQUEST_CONNECT_MS,
    answerMs: REQUEST_ANSWER_MS,
    onLost,
  });
  const watch = openPool(url, {
    connections: CONNECTIONS.watch,
    connectMs: READY_MS,
    answerMs: READY_MS,
    onLost,
  });
  return {
    requests,
    watch,
    end: async () => {
      ending = true;
      await Promise.all([requests.end(), watch.end()]);
    },
  };
}

const TOO_LATE = Symbol();

/** What is asked, or an error when it takes longer. */
async function within<T>(ms: number, asked: Promise<T>): Promise<T> {
  const first = await Promise.race([asked, sleep(ms, TOO_LATE, { ref: false })]);
  if (first === TOO_LATE) throw new Error(`no answer within ${ms} ms`);
  return first as T;
}

/** A night that failed takes nobody out of service: crews go on with what they have; but it is told here as well. */
async function readiness(house: House): Promise<Readiness> {
  const [night] = await house.stores.rows.page('nightly_run', {
    where: [{ column: 'state', is: 'in', value: ['done', 'failed'] }],
    sort: { column: 'business_day', descending: true },
    limit: 1,
  });
  if (night?.['state'] !== 'failed') return {};
  // Why is for who has a key: GET /v1/nightly-runs.
  return { failedNight: { businessDay: String(night['business_day']), code: 'night-failed' } };
}

/**
 * Free bytes where files lie, and the embedded database; a database elsewhere has its own watcher, and of a share that does
 * not answer nothing is told.
 */
async function freeOf(config: Config, log: Logger): Promise<Record<string, number>> {
  const folders = {
    files: filesFolder(config),
    database: config.DATABASE_URL === undefined ? (config.OPENBORE_DATA ?? defaultDataFolder()) : null,
  };
  const found = await Promise.all(
    Object.entries(folders).map(async ([of, folder]) => {
      try {
        return [of, folder && (await within(READY_MS, freeBytes(folder)))] as const;
      } catch (error) {
        log.warn({ err: error, folder }, 'nobody knows how much of the disk is free');
        return [of, null] as const;
      }
    }),
  );
  return Object.fromEntries(found.filter((each): each is readonly [string, number] => each[1] !== null));
}

/** The HTTP door with what it needs of this process. */
function appOf(
  config: Config,
  open: OpenHouse,
  {
    outgoing,
    tools,
    pools,
    vitals,
  }: { outgoing: ReturnType<typeof outgoingCalls>; tools: PlanTools; pools: RequestPools; vitals: Vitals },
): ReturnType<typeof buildApp> {
  const watching = open.houseOn(pools.watch);
  return buildApp(open.houseOn(pools.requests), {
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
        const [told, hasFiles] = await within(READY_MS, Promise.all([readiness(watching), open.hasFiles()]));
        if (hasFiles) return told;
        open.log.warn('not ready: the folder of files does not bear the mark of this business');
      } catch (error) {
        open.log.warn({ err: error }, 'not ready: the database does not answer');
      }
      return null;
    },
    gauges: () => readGauges(pools.watch, open.house.clock.now()),
    own: async () => ({
      pools: poolGauges({ requests: pools.requests, work: open.pool }),
      freeBytes: await freeOf(config, open.log),
      ...vitals,
    }),
  });
}
