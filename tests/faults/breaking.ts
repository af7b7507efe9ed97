import { chmodSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Pool } from 'pg';
import { readBackup } from '../../src/files/backupFolder.js';
import { backup } from '../../src/persistence/backup.js';
import { type EmbeddedPostgres, startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { openPool } from '../../src/persistence/pool.js';
import { restore } from '../../src/persistence/restore.js';
import { Chance } from '../fuzz/chance.js';
import { earlyDoor } from './earlyDoor.js';
import { FAULTS, FULL, type Scene } from './faultKinds.js';
import { Service } from './service.js';
import { SmallDisk } from './smallDisk.js';
import { judge, type Verdict } from './verdict.js';
import { type Door, type Ledger, newLedger, write } from './writers.js';

export interface Wish {
  /** Folder of the project, built. */
  root: string;
  kills: number;
  seconds: number;
  writers: number;
  seed: number;
  /** The next fault comes once so many writes were acknowledged since the last one: drawn between the two. */
  least: number;
  most: number;
  /** Kills from one look at what holds to the next. */
  round: number;
  /** Part of the names of the faults wanted. */
  only: string;
  /** The door acknowledges before it knows. */
  control: boolean;
  /** Megabytes of a file system of its own for the database's folder, which is filled up as well; 0: none. */
  disk: number;
  /** Leaves the folder behind. */
  keep: boolean;
  say: (line: string) => void;
  /** True: end as if the time were up. */
  isCut: () => boolean;
}

export interface Tally {
  times: number;
  kills: number;
  /** Kills with no request in flight. */
  idle: number;
  /** Requests in flight when the fault came, all times together. */
  inFlight: number;
  slowestS: number;
}

export interface Outcome {
  tallies: Map<string, Tally>;
  kills: number;
  starts: number;
  ledger: Ledger;
  verdict: Verdict;
  /** `yes`, or what did not hold when all was built anew from a backup. */
  constraints: string;
  red: boolean;
}

/** A loaded machine takes over a minute to start the service. */
const PATIENCE_MS = 180_000;
const MOST_PAUSE_MS = 10_000;
const TELL_MS = 20_000;
const LINES = 40;

/**
 * The built service and its durable database as real processes, killed, cut, frozen and starved with writes in flight;
 * then every acknowledged write is looked for: after each round, and at the end with a night, a backup and its
 * restoring.
 *
 * @throws {Error} The service did not start.
 */
export async function breakAndJudge(wish: Wish): Promise<Outcome> {
  const work = mkdtempSync(join(tmpdir(), 'openbore-faults-'));
  chmodSync(work, 0o755); // as root the database runs as another user
  const folder = join(work, 'data');
  mkdirSync(folder);
  const disk = wish.disk > 0 ? SmallDisk.mount(folder, wish.disk) : null;
  if (wish.disk > 0 && !disk) wish.say('no file system could be mounted: database full not tried');
  const service = new Service(join(wish.root, 'dist/cli.js'), folder, await freePort());
  const scene: Scene = { service, folder, disk, ledger: newLedger(), chance: new Chance(wish.seed) };
  try {
    const key = service.key('dispatcher');
    service.start();
    if (!(await service.ready(PATIENCE_MS))) throw new Error('the service did not start');
    const breaking = new Breaking(wish, scene, key);
    await breaking.run();
    await service.stop();
    return await judged(wish, scene, breaking, work);
  } finally {
    await service.stop();
    if (!wish.keep) {
      disk?.unmount();
      rmSync(work, { recursive: true, force: true });
    }
  }
}

class Breaking {
  private readonly wish: Wish;
  private readonly scene: Scene;
  private readonly key: string;
  private readonly drawn: readonly (typeof FAULTS)[number][];
  private until: number;
  private toldAt = 0;
  kills = 0;
  readonly tallies: Map<string, Tally>;

  constructor(wish: Wish, scene: Scene, key: string) {
    this.wish = wish;
    this.scene = scene;
    this.key = key;
    const wanted = [...FAULTS, ...(scene.disk ? FULL : [])].filter(({ name }) => name.includes(wish.only));
    this.drawn = wanted.flatMap((fault) => Array.from({ length: fault.share }, () => fault));
    this.tallies = new Map(
      wanted.map(({ name }) => [name, { times: 0, kills: 0, idle: 0, inFlight: 0, slowestS: 0 }]),
    );
    this.until = Date.now() + wish.seconds * 1000;
  }

  private get goesOn(): boolean {
    return this.kills < this.wish.kills && Date.now() < this.until && !this.wish.isCut();
  }

  async run(): Promise<void> {
    const { service, ledger } = this.scene;
    const direct = `http://127.0.0.1:${service.port}`;
    const front = this.wish.control ? await earlyDoor(service.port) : null;
    const door: Door = {
      url: front ? `http://127.0.0.1:${(front.address() as AddressInfo).port}` : direct,
      key: this.key,
      lineIds: await newLines(direct, this.key),
    };
    for (let round = 1; this.goesOn; round++) {
      let going = true;
      const writers = Array.from({ length: this.wish.writers }, (_, i) =>
        write(door, ledger, `w${round}.${i}`, () => going),
      );
      while (this.kills < round * this.wish.round && this.goesOn) await this.oneFault();
      going = false;
      await Promise.all(writers);
      await this.sayRound();
    }
    await oneNight(direct, this.key, ledger);
    front?.close();
  }

  private async oneFault(): Promise<void> {
    const { service, ledger, chance } = this.scene;
    const enough = ledger.acknowledged + chance.whole(this.wish.least, this.wish.most);
    for (const end = Date.now() + MOST_PAUSE_MS; ledger.acknowledged < enough && Date.now() < end; )
      await sleep(5);
    const fault = chance.of(this.drawn);
    const tally = this.tallies.get(fault.name) as Tally;
    const { inFlight } = ledger;
    const taken = await fault.run(this.scene);
    const at = Date.now();
    const isBack = await service.ready(PATIENCE_MS);
    this.kills += taken;
    tally.times += 1;
    tally.kills += taken;
    tally.inFlight += inFlight;
    if (inFlight === 0) tally.idle += taken;
    tally.slowestS = Math.max(tally.slowestS, (Date.now() - at) / 1000);
    if (!isBack) {
      ledger.strange.push(`not ready ${PATIENCE_MS / 1000} s after: ${fault.name}`);
      this.until = 0;
    }
    if (Date.now() - this.toldAt < TELL_MS) return;
    this.toldAt = Date.now();
    this.wish.say(`${this.kills} kills, ${ledger.acknowledged} acknowledged`);
  }

  /** What holds so far, writers at rest: a run that is cut counts up to here. */
  private async sayRound(): Promise<void> {
    const { folder, ledger } = this.scene;
    const found = await onDatabase(folder, 'join', (pool) => judge(pool, ledger));
    const words = Object.entries(found).map(([what, which]) => `${what} ${which.length}`);
    this.wish.say(
      `after ${this.kills} kills: acknowledged ${ledger.acknowledged}; ${words.join(', ')}; strange ${ledger.strange.length}`,
    );
  }
}

async function judged(
  { root }: Wish,
  { folder, ledger, service: { starts } }: Scene,
  { tallies, kills }: Breaking,
  work: string,
): Promise<Outcome> {
  const { verdict, constraints } = await onDatabase(folder, 'refuse', async (pool, server) => ({
    verdict: await judge(pool, ledger),
    constraints: await drilled(pool, server, root, join(work, 'backup')),
  }));
  const red =
    Object.values(verdict).some((found) => found.length > 0) ||
    constraints !== 'yes' ||
    ledger.strange.length > 0;
  return { tallies, kills, starts, ledger, verdict, constraints, red };
}

async function onDatabase<T>(
  folder: string,
  whenInUse: 'join' | 'refuse',
  look: (pool: Pool, server: EmbeddedPostgres) => Promise<T>,
): Promise<T> {
  const server = await startEmbedded({ folder, whenInUse });
  const pool = openPool(server.url(), { connections: 4 });
  try {
    return await look(pool, server);
  } finally {
    await pool.end();
    await server.stop();
  }
}

/** After everything a night runs to its end: nothing is stuck. */
async function oneNight(direct: string, key: string, ledger: Ledger): Promise<void> {
  const headers = { authorization: `Bearer ${key}`, 'content-type': 'application/json' };
  const asked = await fetch(`${direct}/v1/nightly-runs`, { method: 'POST', headers, body: '{}' });
  if (asked.status >= 300)
    ledger.strange.push(`POST /v1/nightly-runs: ${asked.status} ${await asked.text()}`);
  for (const end = Date.now() + 600_000; Date.now() < end; await sleep(500)) {
    const runs = (await (await fetch(`${direct}/v1/nightly-runs`, { headers })).json()) as {
      items: { state: string }[];
    };
    if (runs.items.every(({ state }) => state === 'done')) return;
  }
}

/** Restored from its backup, every foreign key, check and unique index is built anew over all rows. */
export async function drilled(
  pool: Pool,
  server: EmbeddedPostgres,
  root: string,
  copy: string,
): Promise<string> {
  await backup(pool, copy, { version: 'faults', madeAt: new Date() });
  const admin = openPool(server.url('postgres'), { connections: 1 });
  await admin.query('CREATE DATABASE drill');
  await admin.end();
  const fresh = openPool(server.url('drill'));
  try {
    await restore(fresh, copy, await readBackup(copy), { migrations: join(root, 'prisma/migrations') });
    return 'yes';
  } catch (error) {
    return (error as Error).message;
  } finally {
    await fresh.end();
  }
}

/** As many as keep the readings of each few enough to be real. */
export async function newLines(direct: string, key: string): Promise<string[]> {
  const make = async (path: string, body: object) => {
    const answer = await fetch(`${direct}/v1/${path}`, {
      method: 'POST',
      headers: { authorization: `Bearer ${key}`, 'content-type': 'application/json' },
      body: JSON.stringify(body),
    });
    if (answer.status !== 201) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
    return ((await answer.json()) as { id: string }).id;
  };
  const siteId = await make('sites', { address: '1 Marsh Gate', town: 'Brindle' });
  const systemId = await make('systems', { siteId, name: 'Yard', kind: 'gravity' });
  const ids: string[] = [];
  for (let n = 1; n <= LINES; n++)
    ids.push(await make('lines', { siteId, systemId, name: `Yard drain ${n}`, kind: 'yard_drain' }));
  return ids;
}

export async function freePort(): Promise<number> {
  const probe = createServer();
  await new Promise<void>((resolve) => probe.listen(0, '127.0.0.1', resolve));
  const { port } = probe.address() as AddressInfo;
  await new Promise((resolve) => probe.close(resolve));
  return port;
}
