import type { ChildProcess } from 'node:child_process';
import { existsSync, readFileSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type pg from 'pg';
import { type DatabaseFolder, openDatabaseFolder } from './databaseFolder.js';
import {
  endServer,
  hasEnded,
  knock,
  type Log,
  launch,
  leashTo,
  letGo,
  otherUsers,
  takeOwnership,
  urlOf,
} from './databaseServer.js';
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

/** How we came to the server. One that is `joined`, or that others use as well, is left running by `stop`. */
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
/** How long a server may give no sign of life; one that says it is recovering has as long as it takes. */
const PATIENCE_MS = 20_000;
/** How often a guest asks whether the owner has gone. */
const INHERIT_MS = 500;
const SILENT: Log = { info: () => undefined, warn: () => undefined };

/**
 * Runs PostgreSQL as a child on a socket that only its user may open, and starts it again should it die.
 * A server left behind by a killed process is adopted and stops with this one; one that another process still uses when
 * this one stops is handed on to it.
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
    log.warn(
      { serverPid: hold.pid, folder: place.folder },
      'the embedded database went away; starting it again',
    );
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

  const inherit = async () => {
    if (hold.origin !== 'joined' || !(await takeOwnership(hold.session))) return;
    hold.origin = 'adopted';
    log.info({ serverPid: hold.pid }, 'took the database server over from the process that has ended');
  };
  const inheriting = setInterval(() => void inherit(), INHERIT_MS);
  inheriting.unref();

  const onExit = () => {
    if (hold.origin !== 'joined' && isAlive(hold.pid))
      process.kill(hold.pid, temporary ? 'SIGQUIT' : 'SIGINT');
  };
  process.once('exit', onExit);

  const stop = async () => {
    process.off('exit', onExit);
    clearInterval(inheriting);
    await reviving;
    await inherit();
    const users = temporary ? [] : await otherUsers(hold.session);
    await hold.session.end();
    if (hold.origin === 'joined') return;
    if (users.length > 0) {
      log.info({ serverPid: hold.pid, users }, 'the embedded database is in use by others and stays');
      return;
    }
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

async function ensureDatabase(session: pg.Client): Promise<void> {
  const { rowCount } = await session.query('SELECT FROM pg_database WHERE datname = $1', [DATABASE]);
  if (rowCount === 0) await session.query(`CREATE DATABASE ${DATABASE}`);
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
  log[warns ? 'warn' : 'info']({ serverPid: pid, folder: place.folder }, text);
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
