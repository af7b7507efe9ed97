import { type ChildProcess, spawn } from 'node:child_process';
import { closeSync, existsSync, openSync, renameSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { childOptions, type DatabaseFolder, SUPERUSER } from './databaseFolder.js';
import { isAlive } from './postmaster.js';

/** One fact with fields a line; a pino logger fits. */
export type Log = { info(facts: object, text: string): void; warn(facts: object, text: string): void };

/** Session lock that says which process owns the server; it falls with the process, whatever killed it. */
const OWNER_LOCK = 72_707_370;
const SETTINGS = {
  listen_addresses: '',
  unix_socket_permissions: '0700',
  shared_buffers: '256MB',
  max_connections: '100',
  jit: 'off',
  timezone: 'UTC',
};
const NOT_DURABLE = { fsync: 'off', synchronous_commit: 'off', full_page_writes: 'off' };
const STOP_MS = 60_000;
const LARGEST_LOG_BYTES = 4_000_000;

/** Starts a server on the folder; it may end at once, its log says why. */
export function launch(place: DatabaseFolder, durable: boolean): ChildProcess {
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

export function hasEnded(child: ChildProcess): boolean {
  return child.pid === undefined || child.exitCode !== null || child.signalCode !== null;
}

export type Knock =
  | { session: pg.Client; owns: boolean; owner: number | undefined }
  | 'not yet'
  | 'no answer';

/** Asks a server for its owner's lock; says why there was no answer. */
export async function knock(socketFolder: string): Promise<Knock> {
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

/** Makes a guest the owner, where the owner has gone. */
export async function takeOwnership(session: pg.Client): Promise<boolean> {
  try {
    const { rows } = await session.query<{ owns: boolean }>('SELECT pg_try_advisory_lock($1) AS owns', [
      OWNER_LOCK,
    ]);
    return rows[0]?.owns === true;
  } catch {
    return false; // the server went away; it is started again by whoever first notices
  }
}

/** Numbers of other live processes that hold a session on the server. */
export async function otherUsers(session: pg.Client): Promise<number[]> {
  try {
    const { rows } = await session.query<{ name: string }>(
      `SELECT DISTINCT application_name AS name FROM pg_stat_activity
        WHERE application_name ~ '^openbore [0-9]+$' AND pid <> pg_backend_pid()`,
    );
    return rows
      .map(({ name }) => Number(name.split(' ')[1]))
      .filter((pid) => pid !== process.pid && isAlive(pid));
  } catch {
    return [];
  }
}

/** Connection string by socket. */
export function urlOf(socketFolder: string, database: string): string {
  return `postgresql://${SUPERUSER}@localhost/${database}?host=${encodeURIComponent(socketFolder)}`;
}

/** SIGINT is PostgreSQL's fast shutdown: open transactions roll back, the rest is written. */
export async function endServer(pid: number, log: Log): Promise<void> {
  if (!isAlive(pid)) return;
  process.kill(pid, 'SIGINT');
  for (const end = Date.now() + STOP_MS; isAlive(pid); await sleep(20)) {
    if (Date.now() < end) continue;
    log.warn(
      { serverPid: pid },
      'the embedded database did not stop in time; it will recover at its next start',
    );
    process.kill(pid, 'SIGQUIT');
    return;
  }
}

/**
 * Ties a temporary server to this process: when the pipe closes, however we end, the server stops and its
 * folder goes.
 */
export function leashTo(pid: number, place: DatabaseFolder, former?: ChildProcess): ChildProcess {
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

export async function letGo(leash: ChildProcess): Promise<void> {
  const ended = new Promise((resolve) => leash.once('exit', resolve));
  leash.ref();
  leash.stdin?.end();
  await ended;
}
