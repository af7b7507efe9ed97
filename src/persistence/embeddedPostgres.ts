import { type ChildProcess, spawn } from 'node:child_process';
import { closeSync, existsSync, openSync, readFileSync, renameSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { childOptions, type DatabaseFolder, openDatabaseFolder, SUPERUSER } from './databaseFolder.js';
import { isAlive, readPostmaster } from './postmaster.js';

export type EmbeddedOptions = {
  /** Where the data stay; absent: a temporary folder that goes away with this process. */
  folder?: string;
  /** False trades safety for speed: for tests only. */
  durable?: boolean;
  /** What to do when another live process runs a server on the folder: default `refuse`. */
  whenInUse?: 'refuse' | 'join';
  log?: Log;
};

/** One fact with fields a line; a pino logger fits. */
export type Log = { info(facts: object, text: string): void; warn(facts: object, text: string): void };

/** How we came to the server. Only a `joined` one is left running by `stop`. */
export type Origin = 'created' | 'started' | 'recovered' | 'adopted' | 'joined';

export type EmbeddedPostgres = {
  /** Connection string of a database, `openbore` by default. */
  url(database?: string): string;
  /** How the server was found at the start. */
  origin: Origin;
  /** Process number of the server now; changes when it had to be started again. */
  pid(): number;
  stop(): Promise<void>;
};

type Hold = { pid: number; origin: Origin; session: pg.Client; url: (database?: string) => string };

const DATABASE = 'openbore';
/** Session lock that says which process owns the server; it falls with the process, whatever killed it. */
const OWNER_LOCK = 72_707_370;
const SETTINGS = {
  listen_addresses: '',
  unix_socket_permissions: '0700',
  shared_buffers: '256MB',
  max_connections: '60',
  jit: 'off',
  timezone: 'UTC',
};
const NOT_DURABLE = { fsync: 'off', synchronous_commit: 'off', full_page_writes: 'off' };
/** How long a server may give no sign of life; one that says it is recovering has as long as it takes. */
const PATIENCE_MS = 20_000;
const STOP_MS = 60_000;
const LARGEST_LOG_BYTES = 4_000_000;
const SILENT: Log = { info: () => undefined, warn: () => undefined };

/**
 * Runs PostgreSQL as a child on a socket that only its user may open, and starts it again should it die.
 * A server left behind by a killed process is adopted and stops with this one.
 *
 * @throws {Error} With the remedy: another process owns the folder, no access, another major version.
 */
export async function startEmbedded(options: EmbeddedOptions = {}): Promise<EmbeddedPostgres> {
  const { durable = true, whenInUse = 'refuse', log = SILENT } = options;
  const place = await openDatabaseFolder(options.folder, durable);
  const temporary = options.folder === undefined;
  const take = () => takeHold(place, durable, whenInUse);

  let hold = await take();
  report(hold, place, log);
  let leash = temporary ? leashTo(hold.pid, place) : undefined;
  let stopped: Promise<void> | undefined;

  const revive = async () => {
    log.warn({ serverPid: hold.pid, folder: place.folder }, 'the embedded database went away; starting it again');
    for (let waitMs = 250; !stopped; waitMs = Math.min(2 * waitMs, 30_000)) {
      try {
        hold = await take();
        report(hold, place, log);
        if (temporary) leash = leashTo(hold.pid, place, leash);
        watch();
        return;
      } catch (error) {
        log.warn({ err: error, waitMs }, 'the embedded database did not start; trying again');
        await sleep(waitMs);
      }
    }
  };
  let reviving: Promise<void> = Promise.resolve();
  const watch = () => {
    hold.session.once('end', () => {
      if (!stopped) reviving = revive();
    });
  };
  watch();

  const onExit = () => {
    if (hold.origin !== 'joined' && isAlive(hold.pid))
      process.kill(hold.pid, temporary ? 'SIGQUIT' : 'SIGINT');
  };
  process.once('exit', onExit);

  const stop = async () => {
    process.off('exit', onExit);
    await reviving;
    await hold.session.end();
    if (hold.origin === 'joined') return;
    await endServer(hold.pid, log);
    if (leash) await letGo(leash);
    if (place.socketFolder !== place.folder) rmSync(place.socketFolder, { recursive: true, force: true });
    log.info({ folder: place.folder }, 'embedded database stopped');
  };
  return {
    url: (database) => hold.url(database),
    origin: hold.origin,
    pid: () => hold.pid,
    stop: () => (stopped ??= stop()),
  };
}

/** Starts a server, or finds the one that runs; ends holding a session on it. */
async function takeHold(
  place: DatabaseFolder,
  durable: boolean,
  whenInUse: 'refuse' | 'join',
): Promise<Hold> {
  let child: ChildProcess | undefined;
  let lastSign = Date.now();
  const logStart = existsSync(place.logFile) ? statSync(place.logFile).size : 0;
  for (;;) {
    const running = readPostmaster(place.dataFolder);
    const answer = running && isAlive(running.pid) ? await knock(running.socketFolder) : 'no answer';
    if (typeof answer !== 'string' && running) {
      const { session, owns, owner } = answer;
      const url = (database = DATABASE) => urlOf(running.socketFolder, database);
      if (owns) {
        const origin = child?.pid !== running.pid ? 'adopted' : originOf(place, logStart);
        await ensureDatabase(session);
        return { pid: running.pid, origin, session, url };
      }
      if (whenInUse === 'join') return { pid: running.pid, origin: 'joined', session, url };
      await session.end();
      if (owner !== undefined && isAlive(owner)) throw inUse(place, running.pid, owner);
    }
    if (answer === 'not yet') lastSign = Date.now();
    if (child && hasEnded(child) && !isAnothersDoing(logSince(place, logStart))) {
      throw didNotStart(place, logStart, undefined);
    }
    if (answer === 'no answer' && (!child || hasEnded(child))) child = launch(place, durable);
    if (Date.now() - lastSign > PATIENCE_MS) {
      if (child && !hasEnded(child)) child.kill('SIGQUIT');
      throw didNotStart(place, logStart, running?.pid);
    }
    await sleep(child && hasEnded(child) ? 250 : 30);
  }
}

type Knock = { session: pg.Client; owns: boolean; owner: number | undefined } | 'not yet' | 'no answer';

async function knock(socketFolder: string): Promise<Knock> {
  const session = new pg.Client({
    connectionString: urlOf(socketFolder, 'postgres'),
    application_name: `openbore ${process.pid}`,
    keepAlive: true,
  });
  session.on('error', () => undefined); // its 'end' follows, and is acted on
  try {
    await session.connect();
    const lock = await session.query<{ owns: boolean }>('SELECT pg_try_advisory_lock($1) AS owns', [
      OWNER_LOCK,
    ]);
    const holder = await session.query<{ application_name: string }>(
      `SELECT application_name FROM pg_locks JOIN pg_stat_activity USING (pid)
        WHERE locktype = 'advisory' AND objid = $1 AND granted`,
      [OWNER_LOCK],
    );
    const owner = holder.rows[0]?.application_name.split(' ')[1];
    return { session, owns: lock.rows[0]?.owns === true, owner: owner ? Number(owner) : undefined };
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : undefined;
    // 57P03: starting, recovering or shutting down.
    return code === '57P03' ? 'not yet' : 'no answer';
  }
}

function urlOf(socketFolder: string, database: string): string {
  return `postgresql://${SUPERUSER}@localhost/${database}?host=${encodeURIComponent(socketFolder)}`;
}

async function ensureDatabase(session: pg.Client): Promise<void> {
  const { rowCount } = await session.query('SELECT FROM pg_database WHERE datname = $1', [DATABASE]);
  if (rowCount === 0) await session.query(`CREATE DATABASE ${DATABASE}`);
}

function launch(place: DatabaseFolder, durable: boolean): ChildProcess {
  if (existsSync(place.logFile) && statSync(place.logFile).size > LARGEST_LOG_BYTES) {
    renameSync(place.logFile, `${place.logFile}.1`);
  }
  const settings = {
    ...SETTINGS,
    unix_socket_directories: place.socketFolder,
    ...(durable ? {} : NOT_DURABLE),
  };
  const args = Object.entries(settings).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
  const logFile = openSync(place.logFile, 'a', 0o600);
  // Detached: Ctrl-C in the terminal must not stop the database before the service.
  const child = spawn(join(place.binaries, 'bin/postgres'), ['-D', place.dataFolder, ...args], {
    ...childOptions(place.user),
    detached: true,
    stdio: ['ignore', logFile, logFile],
  });
  child.on('error', () => undefined); // shows as a child that has ended
  closeSync(logFile);
  child.unref();
  return child;
}

function hasEnded(child: ChildProcess): boolean {
  return child.pid === undefined || child.exitCode !== null || child.signalCode !== null;
}

function originOf(place: DatabaseFolder, logStart: number): Origin {
  if (/was not properly shut down|was interrupted/.test(logSince(place, logStart))) return 'recovered';
  return place.isNew ? 'created' : 'started';
}

/** The server that ends may still hold files or memory for a moment; every other failure stays as it is. */
function isAnothersDoing(log: string): boolean {
  return /lock file .* already exists|is still in use|Is another postmaster/.test(log);
}

function logSince(place: DatabaseFolder, start: number): string {
  if (!existsSync(place.logFile)) return '';
  const bytes = readFileSync(place.logFile);
  return bytes.subarray(start <= bytes.length ? start : 0).toString('utf8');
}

function report({ pid, origin }: Hold, place: DatabaseFolder, log: Log): void {
  const { warns, text } = ORIGIN_WORDS[origin];
  log[warns ? 'warn' : 'info']({ pid, folder: place.folder }, text);
}

const ORIGIN_WORDS: Record<Origin, { warns: boolean; text: string }> = {
  created: { warns: false, text: 'embedded database created' },
  started: { warns: false, text: 'embedded database started' },
  recovered: {
    warns: true,
    text: 'the database had not been shut down; PostgreSQL recovered it, all committed work is there',
  },
  adopted: {
    warns: true,
    text: 'adopted the database server that a killed process left running; it will stop with this one',
  },
  joined: { warns: false, text: 'using the database server of another process' },
};

function inUse(place: DatabaseFolder, pid: number, owner: number): Error {
  return new Error(
    `database folder ${place.folder} is in use by process ${owner} (database server ${pid}): ` +
      'stop that process, choose another folder, or set DATABASE_URL',
  );
}

function didNotStart(place: DatabaseFolder, logStart: number, pid: number | undefined): Error {
  const other = pid !== undefined && isAlive(pid);
  const remedy = other
    ? `; if process ${pid} is not PostgreSQL, delete ${join(place.dataFolder, 'postmaster.pid')}`
    : '';
  const tail = logSince(place, logStart).trim().split('\n').slice(-8).join('\n');
  return new Error(`the embedded database did not start${remedy}. The end of ${place.logFile}:\n${tail}`);
}

/** SIGINT is PostgreSQL's fast shutdown: open transactions roll back, the rest is written. */
async function endServer(pid: number, log: Log): Promise<void> {
  if (!isAlive(pid)) return;
  process.kill(pid, 'SIGINT');
  for (const end = Date.now() + STOP_MS; isAlive(pid); await sleep(20)) {
    if (Date.now() < end) continue;
    log.warn({ serverPid: pid }, 'the embedded database did not stop in time; it will recover at its next start');
    process.kill(pid, 'SIGQUIT');
    return;
  }
}

/**
 * Ties a temporary server to this process: when the pipe closes, however we end, the server stops and its
 * folder goes.
 */
function leashTo(pid: number, place: DatabaseFolder, former?: ChildProcess): ChildProcess {
  former?.kill('SIGKILL');
  const script = 'read -r _; while kill -QUIT "$1" 2>/dev/null; do sleep .1; done; rm -rf -- "$2"';
  const leash = spawn('/bin/sh', ['-c', script, 'sh', String(pid), place.folder], {
    ...childOptions(place.user),
    detached: true,
    stdio: ['pipe', 'ignore', 'ignore'],
  });
  leash.unref();
  return leash;
}

async function letGo(leash: ChildProcess): Promise<void> {
  const ended = new Promise((resolve) => leash.once('exit', resolve));
  leash.ref();
  leash.stdin?.end();
  await ended;
}
