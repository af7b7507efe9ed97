import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { afterAll, beforeAll, beforeEach, expect, onTestFinished, test } from 'vitest';
import {
  type EmbeddedOptions,
  type EmbeddedPostgres,
  startEmbedded,
} from '../../src/persistence/embeddedPostgres.js';
import { isAlive, readPostmaster } from '../../src/persistence/postmaster.js';

/** What the server said, as a log line is told it. */
let said: string[];
let folder: string;

/** A folder with a database that was stopped properly; making one takes a second, copying it much less. */
let made: string;

beforeAll(async () => {
  made = mkdtempSync('/tmp/openbore-test-');
  await (await startEmbedded({ folder: made, durable: false })).stop();
});
afterAll(() => rmSync(made, { recursive: true }));

beforeEach(() => {
  said = [];
  folder = mkdtempSync('/tmp/openbore-test-');
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
});

/** Lays a database into the test's folder. */
function lay(): void {
  execFileSync('cp', ['-a', `${made}/.`, folder]);
}

/** For speed: only the tests that kill a server need its data to outlast it. */
const durable = false;
const note = (_facts: object, text: string) => said.push(text);

async function start(options: EmbeddedOptions = {}): Promise<EmbeddedPostgres> {
  const server = await startEmbedded({ folder, durable, log: { info: note, warn: note }, ...options });
  onTestFinished(() => server.stop());
  return server;
}

/** A row by a connection of its own, as a service that starts anew would ask. */
async function ask(url: string, sql: string): Promise<Record<string, unknown> | undefined> {
  const client = new pg.Client({ connectionString: url });
  client.on('error', () => undefined); // a query that was under way says it
  try {
    await client.connect();
    return (await client.query(sql)).rows[0];
  } finally {
    await client.end();
  }
}

const keepLitres = (url: string) =>
  ask(url, 'CREATE TABLE IF NOT EXISTS kept AS SELECT 1200 AS litres').then(() => undefined);
const litres = async (url: string) => (await ask(url, 'SELECT litres FROM kept'))?.['litres'];

/** Another process that holds a database. */
async function holder(place: string): Promise<{ process: ChildProcess; url: string; serverPid: number }> {
  const child = spawn(process.execPath, [join(import.meta.dirname, 'holdDatabase.mjs'), place], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  onTestFinished(() => void child.kill('SIGKILL'));
  const [line] = await once(createInterface(child.stdout), 'line');
  const { url, serverPid } = JSON.parse(String(line)) as { url: string; serverPid: number };
  onTestFinished(() => {
    if (isAlive(serverPid)) process.kill(serverPid, 'SIGQUIT');
  });
  return { process: child, url, serverPid };
}

async function kill(child: ChildProcess): Promise<void> {
  const ended = once(child, 'exit');
  child.kill('SIGKILL');
  await ended;
}

async function until(fact: () => boolean | Promise<boolean>): Promise<void> {
  for (const end = Date.now() + 30_000; !(await fact()); await sleep(20)) {
    if (Date.now() > end) throw new Error(`waited for ${fact} in vain; said: ${said.join('; ')}`);
  }
}

test('what was written is there after a stop and a start', async () => {
  const first = await start();
  expect(first.origin).toBe('created');
  await keepLitres(first.url());
  await first.stop();
  expect(isAlive(first.pid())).toBe(false);
  expect(readPostmaster(join(folder, 'data'))).toBeNull();

  const second = await start();
  expect(second.origin).toBe('started');
  expect(await litres(second.url())).toBe(1200);
});

test('is durable unless a test asks otherwise', async () => {
  lay();
  const { url } = await start({ durable: true });
  const settings = `SELECT current_setting('fsync') AS fsync, current_setting('synchronous_commit') AS commit,
    current_setting('full_page_writes') AS pages, current_setting('listen_addresses') AS addresses`;
  expect(await ask(url(), settings)).toEqual({ fsync: 'on', commit: 'on', pages: 'on', addresses: '' });
});

test('a killed server is started again under the same address, with all that was committed', async () => {
  lay();
  const server = await start({ durable: true });
  await keepLitres(server.url());
  const killed = server.pid();
  process.kill(killed, 'SIGKILL');
  await until(() => server.pid() !== killed);
  expect(await litres(server.url())).toBe(1200);
  expect(said).toEqual([
    'embedded database started',
    'the embedded database went away; starting it again',
    'the database had not been shut down; PostgreSQL recovered it, all committed work is there',
  ]);
});

test('a start after a crash of everything says what it found', async () => {
  lay();
  const other = await holder(folder);
  await keepLitres(other.url);
  await kill(other.process);
  process.kill(other.serverPid, 'SIGKILL');
  await until(() => !isAlive(other.serverPid));

  const server = await start();
  expect(server.origin).toBe('recovered');
  expect(await litres(server.url())).toBe(1200);
});

test('a folder in use by a live process is refused with its number, or joined', async () => {
  lay();
  const other = await holder(folder);
  await keepLitres(other.url);
  await expect(start()).rejects.toThrow(
    `in use by process ${other.process.pid} (database server ${other.serverPid}): stop that process`,
  );

  const guest = await start({ whenInUse: 'join' });
  expect(guest.origin).toBe('joined');
  expect(await litres(guest.url())).toBe(1200);
  await guest.stop();
  expect(await litres(other.url)).toBe(1200);
});

test('a server that a killed process left running is adopted and stops with us', async () => {
  lay();
  const other = await holder(folder);
  await keepLitres(other.url);
  await kill(other.process);
  expect(isAlive(other.serverPid)).toBe(true);

  const server = await start();
  expect(server.origin).toBe('adopted');
  expect(server.pid()).toBe(other.serverPid);
  expect(said).toEqual([expect.stringContaining('adopted the database server')]);
  expect(await litres(server.url())).toBe(1200);
  await server.stop();
  expect(isAlive(other.serverPid)).toBe(false);
});

test('an owner that stops hands the server on to its guest: nobody is cut off', async () => {
  lay();
  const other = await holder(folder);
  await keepLitres(other.url);
  const guest = await start({ whenInUse: 'join' });
  const ended = once(other.process, 'exit');
  other.process.kill('SIGTERM');
  await ended;
  expect(guest.pid()).toBe(other.serverPid);
  expect(isAlive(other.serverPid)).toBe(true);
  expect(await litres(guest.url())).toBe(1200);
  await guest.stop();
  expect(isAlive(other.serverPid)).toBe(false);
});

test('a guest starts the server again when it was killed with its owner', async () => {
  lay();
  const other = await holder(folder);
  await keepLitres(other.url);
  const guest = await start({ whenInUse: 'join' });
  await kill(other.process);
  process.kill(other.serverPid, 'SIGKILL');
  await until(() => guest.pid() !== other.serverPid);
  expect(await litres(guest.url())).toBe(1200);
  await guest.stop();
  expect(isAlive(guest.pid())).toBe(false);
});

test('two processes that start at once on a new folder make one database', async () => {
  const both = await Promise.allSettled([start(), start()]);
  expect(both.map(({ status }) => status).sort()).toEqual(['fulfilled', 'rejected']);
  const refused = both.find((one) => one.status === 'rejected');
  expect(String(refused?.reason)).toContain(`in use by process ${process.pid}`);
});

test('a temporary database goes with its process, however that ends', async () => {
  const other = await holder('temporary');
  const place = new URL(other.url).searchParams.get('host') ?? '';
  expect(existsSync(place)).toBe(true);
  await kill(other.process);
  await until(() => !isAlive(other.serverPid) && !existsSync(place));
});

test('a half-made cluster of a killed first start is no obstacle', async () => {
  mkdirSync(join(folder, 'data.999999999'));
  const server = await start();
  expect(server.origin).toBe('created');
  expect(existsSync(join(folder, 'data.999999999'))).toBe(false);
});

test('data of another major version are refused, untouched', async () => {
  lay();
  writeFileSync(join(folder, 'data/PG_VERSION'), '15\n');
  await expect(start()).rejects.toThrow(/made by PostgreSQL 15, this release brings \d+: take a backup/);
  expect(readFileSync(join(folder, 'data/PG_VERSION'), 'utf8')).toBe('15\n');
});

test('a server that cannot start says why, with the end of its log', async () => {
  lay();
  writeFileSync(join(folder, 'data/postgresql.conf'), 'shared_bufers = 1\n');
  await expect(start()).rejects.toThrow(/unrecognized configuration parameter "shared_bufers"/);
});

test('a folder that the database user cannot enter is refused with the remedy', async () => {
  const closed = join(folder, 'closed');
  mkdirSync(closed);
  chmodSync(closed, process.getuid?.() === 0 ? 0o700 : 0o500); // root may all: the borrowed user may not
  await expect(start({ folder: join(closed, 'inner') })).rejects.toThrow(
    /cannot .*closed\/inner.*choose another database folder or set DATABASE_URL/s,
  );
});

test('a long path is no obstacle: the socket then lives in a short one', async () => {
  chmodSync(folder, 0o755);
  const server = await start({ folder: join(folder, 'a'.repeat(60), 'b'.repeat(60)) });
  await keepLitres(server.url());
  expect(await litres(server.url())).toBe(1200);
});

test('a folder with other things in it is left alone, whoever owns it', async () => {
  writeFileSync(join(folder, 'letters.txt'), 'dear sir');
  chmodSync(folder, 0o755);
  await expect(start({ folder })).rejects.toThrow(/holds other things.*choose another database folder/s);
  expect(statSync(folder).mode & 0o777).toBe(0o755);
  expect(statSync(folder).uid).toBe(process.getuid?.());
});
