import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  chmodSync,
  chownSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { databaseUser, postgresBinaries, type RunAs } from './postgresBinaries.js';
import { isAlive } from './postmaster.js';

/** Everything needed to run a server on one folder. */
export type DatabaseFolder = {
  folder: string;
  dataFolder: string;
  socketFolder: string;
  logFile: string;
  binaries: string;
  user: RunAs;
  /** Made by this call: a database without a past. */
  isNew: boolean;
};

export const SUPERUSER = 'openbore';
const CHILD_ENV = { PATH: process.env['PATH'] ?? '', LC_ALL: 'C', TZ: 'UTC' };
/** A socket's path has at most 107 bytes (103 on macOS), its file name takes 14. */
const LONGEST_SOCKET_FOLDER = 88;

/**
 * Makes the folder and the database cluster in it where they are missing.
 *
 * @param folder  Absent: a new temporary folder.
 * @param durable False leaves out waiting for the disk.
 */
export async function openDatabaseFolder(
  folder: string | undefined,
  durable: boolean,
): Promise<DatabaseFolder> {
  const user = databaseUser();
  const binaries = await postgresBinaries(user);
  const place = folder === undefined ? temporaryFolder(user) : givenFolder(resolve(folder), user);

  const dataFolder = join(place, 'data');
  const isNew = !existsSync(join(dataFolder, 'PG_VERSION'));
  if (isNew) createCluster(binaries, dataFolder, user, durable);
  refuseOtherMajor(binaries, dataFolder);
  return {
    folder: place,
    dataFolder,
    socketFolder: socketFolderFor(place, user),
    logFile: join(place, 'server.log'),
    binaries,
    user,
    isNew,
  };
}

/** Environment and place in which the server's programs run. */
export function childOptions(user: RunAs): { env: NodeJS.ProcessEnv; cwd: string } & RunAs {
  return { ...user, env: CHILD_ENV, cwd: '/' };
}

function temporaryFolder(user: RunAs): string {
  let refusal = '';
  for (const base of new Set([tmpdir(), '/tmp'])) {
    const folder = mkdtempSync(join(base, 'openbore-pg-'));
    ownFolder(folder, user);
    refusal = accessRefusal(folder, user);
    if (!refusal) return folder;
    rmSync(folder, { recursive: true });
  }
  throw new Error(`${refusal}; set TMPDIR to a folder that it can enter, or set DATABASE_URL`);
}

function givenFolder(folder: string, user: RunAs): string {
  const remedy = 'choose another database folder or set DATABASE_URL';
  if (!isOurs(folder))
    throw new Error(`${folder} holds other things and no database of ours: it is left alone; ${remedy}`);
  try {
    ownFolder(folder, user);
  } catch (cause) {
    throw new Error(`cannot make ${folder}: ${String(cause)}; ${remedy}`, { cause });
  }
  const refusal = accessRefusal(folder, user);
  if (refusal) throw new Error(`${refusal}; ${remedy}`);
  return folder;
}

/** What this release and a start that was killed leave in a database folder. */
const OWN_ENTRY = /^(data|data\.\d+|server\.log.*|\.s\.PGSQL\..*|lost\+found)$/;

/** A folder that is missing, empty, or holds a database or what a first start left of one. */
function isOurs(folder: string): boolean {
  if (!existsSync(folder) || existsSync(join(folder, 'data', 'PG_VERSION'))) return true;
  return readdirSync(folder).every((name) => OWN_ENTRY.test(name));
}

function ownFolder(folder: string, user: RunAs): void {
  makeFolders(folder);
  const { uid, mode } = statSync(folder);
  const owner = user.uid ?? process.getuid?.();
  if (uid !== owner && user.uid !== undefined && user.gid !== undefined)
    chownSync(folder, user.uid, user.gid);
  if ((mode & 0o777) !== 0o700) chmodSync(folder, 0o700);
}

/** Folders made on the way stay passable for the database's user, whatever our umask. */
function makeFolders(folder: string): void {
  const first = mkdirSync(folder, { recursive: true });
  if (first === undefined) return;
  for (let made = dirname(folder); made.length >= first.length; made = dirname(made)) chmodSync(made, 0o755);
}

/** Tried as the database's own user: a folder above may be closed to it. */
function accessRefusal(folder: string, user: RunAs): string {
  const { status, stderr, error } = spawnSync('/bin/sh', ['-c', 'cd -- "$1" && test -w .', 'sh', folder], {
    ...childOptions(user),
    encoding: 'utf8',
  });
  if (status === 0) return '';
  const who = user.uid === undefined ? 'this user' : `user ${user.uid} (the database cannot run as root)`;
  return `${who} cannot write in ${folder}: ${error?.message ?? (stderr.trim() || 'no permission')}`;
}

/** Made beside its place and renamed, so that a kill leaves no half cluster behind. */
function createCluster(binaries: string, dataFolder: string, user: RunAs, durable: boolean): void {
  removeHalfMade(dirname(dataFolder));
  const fresh = `${dataFolder}.${process.pid}`;
  const { status, stderr, error } = spawnSync(
    join(binaries, 'bin/initdb'),
    [
      ...['--pgdata', fresh, '--username', SUPERUSER, '--auth', 'trust', '--encoding', 'UTF8'],
      ...['--locale', 'C', '--locale-provider', 'builtin', '--builtin-locale', 'C.UTF-8'],
      ...(durable ? [] : ['--no-sync']),
    ],
    { ...childOptions(user), encoding: 'utf8' },
  );
  if (status !== 0) {
    rmSync(fresh, { recursive: true, force: true });
    throw new Error(
      `the embedded database could not be created in ${dataFolder}: ${error?.message ?? stderr.trim()}`,
    );
  }
  try {
    renameSync(fresh, dataFolder);
  } catch (cause) {
    rmSync(fresh, { recursive: true, force: true });
    // Another process may have been first; what it made is as good.
    if (!existsSync(join(dataFolder, 'PG_VERSION'))) {
      throw new Error(`${dataFolder} is in the way and holds no database; move it or choose another folder`, {
        cause,
      });
    }
  }
}

/** What first starts that were killed left behind. */
function removeHalfMade(folder: string): void {
  for (const name of readdirSync(folder)) {
    const pid = /^data\.(\d+)$/.exec(name)?.[1];
    if (pid && (Number(pid) === process.pid || !isAlive(Number(pid)))) {
      rmSync(join(folder, name), { recursive: true, force: true });
    }
  }
}

function refuseOtherMajor(binaries: string, dataFolder: string): void {
  const data = readFileSync(join(dataFolder, 'PG_VERSION'), 'utf8').trim();
  const { stdout } = spawnSync(join(binaries, 'bin/postgres'), ['--version'], { cwd: '/', encoding: 'utf8' });
  const program = /(\d+)(?:\.|beta|rc)/.exec(stdout)?.[1];
  if (program === data) return;
  throw new Error(
    `${dataFolder} was made by PostgreSQL ${data}, this release brings ${program}: ` +
      'take a backup with the release that made it and restore it into a new folder',
  );
}

function socketFolderFor(folder: string, user: RunAs): string {
  if (Buffer.byteLength(folder) <= LONGEST_SOCKET_FOLDER) return folder;
  const short = join('/tmp', `openbore-${createHash('sha256').update(folder).digest('hex').slice(0, 16)}`);
  mkdirSync(short, { recursive: true, mode: 0o700 });
  if (user.uid !== undefined && user.gid !== undefined && statSync(short).uid === 0)
    chownSync(short, user.uid, user.gid);
  if (statSync(short).uid !== (user.uid ?? process.getuid?.()))
    throw new Error(`${short} belongs to another user`);
  return short;
}
