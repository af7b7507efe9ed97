import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import type pg from 'pg';
import { createKey } from '../../src/actions/createKey.js';
import type { House } from '../../src/actions/house.js';
import { askNight } from '../../src/actions/night/askNight.js';
import { businessZone } from '../../src/domain/calendar/businessZone.js';
import { ROLES, type Role, STEPS } from '../../src/domain/words.js';
import { buildApp } from '../../src/http/app.js';
import { makeHouse } from '../../src/persistence/house.js';
import { Chance } from '../fuzz/chance.js';
import { Door } from '../fuzz/door.js';
import { layFirm, layPlace, readLine } from '../fuzz/ground.js';
import { tablesAlike } from '../setup/tablesAlike.js';

export const NOW = '2026-10-01T07:00:00Z';
export const DAY = '2026-10-01';

/** Between any two steps, and inside each with nothing and with everything done. */
export const POINTS: readonly string[] = STEPS.flatMap((step) => [
  `before:${step}`,
  `begin:${step}`,
  `end:${step}`,
]);

export const houseOn = (pool: pg.Pool): House =>
  makeHouse(pool, {
    clock: { now: () => new Date(NOW) },
    zone: businessZone('America/Chicago'),
    units: 'metric',
    currency: 'USD',
    version: 'night',
  });

/** Books with work for every step of a night. */
export async function layBooks(pool: pg.Pool, houses: number): Promise<void> {
  const house = houseOn(pool);
  const app = await buildApp(house, { requestsPerMinute: 0 });
  await app.ready();
  const keys = {} as Record<Role, string>;
  for (const role of ROLES)
    keys[role] = (
      await house.transact({ name: 'night' }, (stores) =>
        createKey(stores, { name: role, roles: [role], memberId: null, expiresAt: null }),
      )
    ).key;
  const door = new Door(app, keys);
  const chance = new Chance(5);
  await layFirm(door);
  for (let n = 0; n < houses; n++) await readLine(door, await layPlace(door, chance), chance);
  await app.close();
}

/** Instances as processes of their own; who asks ends them. */
export class Instances {
  private readonly script: string;
  private readonly url: string;
  private readonly children: ChildProcess[] = [];
  /** Plans that each has searched, in the order of their starts. */
  readonly plans: number[] = [];

  constructor(script: string, url: string) {
    this.script = script;
    this.url = url;
  }

  /** @param waits Up, but idle until `work`. */
  async start(dieAt = '', waits = false): Promise<ChildProcess> {
    const child = spawn(
      process.execPath,
      [this.script, JSON.stringify({ url: this.url, now: NOW, dieAt, waits })],
      {
        stdio: ['pipe', 'pipe', 'inherit'],
      },
    );
    const at = this.children.push(child) - 1;
    this.plans[at] = 0;
    const lines = createInterface(child.stdout as NodeJS.ReadableStream);
    lines.on('line', (line) => {
      if (line === 'plan') this.plans[at] = (this.plans[at] ?? 0) + 1;
    });
    await once(lines, 'line');
    return child;
  }

  work(): void {
    for (const child of this.children) child.stdin?.write('work\n');
  }

  end(): void {
    for (const child of this.children) child.kill('SIGKILL');
  }
}

export interface KilledNight {
  /** Seconds from the kill until another instance held the run. */
  takenAfterS: number;
  runs: number;
  state: string;
  tables: Record<string, string[]>;
}

/**
 * One night with one instance that dies at a point and others that stay.
 *
 * @param others How many instances stay.
 * @param hurry  Ends the lease at once, instead of waiting for it.
 */
export async function nightWithKill(
  { pool, url, script }: { pool: pg.Pool; url: string; script: string },
  dieAt: string,
  others: number,
  hurry: boolean,
): Promise<KilledNight> {
  const known = await idsOf(pool);
  const begun = Date.now();
  const instances = new Instances(script, url);
  try {
    await Promise.all(Array.from({ length: others }, () => instances.start('', true)));
    const doomed = await instances.start(dieAt);
    await askNight(houseOn(pool), { name: 'test' }, { businessDay: DAY, askedBy: 'test', again: false });
    if (dieAt) {
      await once(doomed, 'exit');
      if (hurry) await pool.query(`UPDATE nightly_run SET lease_until = now() - interval '1 second'`);
    }
    const killedAt = Date.now();
    const holder = async () =>
      (await pool.query('SELECT holder, state FROM nightly_run')).rows[0] as {
        holder: string | null;
        state: string;
      };
    const before = (await holder()).holder;
    instances.work();
    let takenAt = killedAt;
    for (const end = killedAt + 180_000; Date.now() < end; await sleep(100)) {
      const { holder: now, state } = await holder();
      if (takenAt === killedAt && now !== before) takenAt = Date.now();
      if (state === 'done' || state === 'failed') break;
    }
    const { rows } = await pool.query('SELECT state FROM nightly_run');
    return {
      takenAfterS: (takenAt - killedAt) / 1000,
      runs: rows.length,
      state: String(rows[0]?.['state']),
      tables: await tablesOfNight(pool, known, begun),
    };
  } finally {
    instances.end();
  }
}

async function idsOf(pool: pg.Pool): Promise<ReadonlySet<string>> {
  const { rows } = await pool.query<{ id: string }>('SELECT DISTINCT row_id AS id FROM change_log');
  return new Set(rows.map(({ id }) => id));
}

const OF_THE_RUN = new Set(['nightly_run', 'nightly_step']);

/** What the night left, without when and by whom it was worked on. */
async function tablesOfNight(
  pool: pg.Pool,
  known: ReadonlySet<string>,
  begun: number,
): Promise<Record<string, string[]>> {
  const all = await tablesAlike(pool, known, (text) =>
    // A hash over ids that were made is another each time; numbers that a rolled back step took leave a gap.
    text
      .replace(/"input_hash":"[^"]*"/, '"input_hash":"…"')
      .replace(/"number":\d+/g, '"number":…')
      .replace(/"\d{4}-\d\d-\d\dT[\d:.]+(\+00:00|Z)"/g, (instant) =>
        Date.parse(instant.slice(1, -1)) >= begun - 1000 ? '"now"' : instant,
      ),
  );
  return Object.fromEntries(Object.entries(all).filter(([table]) => !OF_THE_RUN.has(table)));
}

/** Tables that differ, with where the first row that only one of them has goes another way. */
export function differences(a: Record<string, string[]>, b: Record<string, string[]>): string[] {
  return Object.keys({ ...a, ...b }).flatMap((table) => {
    const [mine, others] = [a[table] ?? [], b[table] ?? []];
    const only = mine.find((row) => !others.includes(row));
    const other = others.find((row) => !mine.includes(row)) ?? '';
    if (only === undefined)
      return mine.length === others.length ? [] : [`${table}: ${mine.length} and ${others.length} rows`];
    let at = 0;
    while (at < only.length && only[at] === other[at]) at += 1;
    const part = (row: string) => row.slice(Math.max(0, at - 60), at + 100);
    return [`${table}: ${part(only)} AND ${part(other)}`];
  });
}
