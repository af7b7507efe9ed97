import { setTimeout as sleep } from 'node:timers/promises';
import { startEmbedded } from '../../src/persistence/embeddedPostgres.js';
import { openPool } from '../../src/persistence/pool.js';
import type { Chance } from '../fuzz/chance.js';
import type { Service } from './service.js';
import type { SmallDisk } from './smallDisk.js';
import type { Ledger } from './writers.js';

export interface Scene {
  service: Service;
  /** Data folder of the service and its database. */
  folder: string;
  ledger: Ledger;
  chance: Chance;
  /** Null: the folder lies on a file system that nobody fills up. */
  disk: SmallDisk | null;
}

/** Runs the fault and says how many processes it killed. */
export type Fault = (scene: Scene) => Promise<number> | number;

/** Faults by name, with how often each is drawn against the others. */
export const FAULTS: readonly { name: string; share: number; run: Fault }[] = [
  { name: 'service killed', share: 1, run: ({ service }) => (service.kill() ? 1 : 0) },
  { name: 'database killed', share: 2, run: ({ service }) => (service.killDatabase() ? 1 : 0) },
  { name: 'both killed', share: 2, run: bothKilled },
  { name: 'connections cut', share: 1, run: cut },
  { name: 'database frozen', share: 1, run: frozen },
];

/** Only where the folder lies on a file system of its own. */
export const FULL: typeof FAULTS = [
  { name: 'database full', share: 1, run: (scene) => full(scene, () => 0) },
  { name: 'killed while full', share: 1, run: (scene) => full(scene, bothKilled) },
];

function bothKilled({ service }: Scene): number {
  return (service.killDatabase() ? 1 : 0) + (service.kill() ? 1 : 0);
}

async function cut({ folder }: Scene): Promise<number> {
  const other = await startEmbedded({ folder, whenInUse: 'join' });
  if (other.origin === 'joined') {
    const admin = openPool(other.url(), { connections: 1 });
    await admin
      .query(
        `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'openbore' AND pid <> pg_backend_pid()`,
      )
      .catch(() => undefined);
    await admin.end();
  }
  await other.stop();
  return 0;
}

/** Shorter and longer than the callers' patience. */
async function frozen({ service, chance }: Scene): Promise<number> {
  await service.freezeDatabase(500 + chance.unit() * 2_500);
  return 0;
}

const MOST_FULL_MS = 10_000;

/** Until some writes were refused for it, and a while longer; `meanwhile` happens before there is room again. */
async function full(scene: Scene, meanwhile: (scene: Scene) => number): Promise<number> {
  const { disk, ledger, chance } = scene;
  const refused = () => ledger.refusals.get(503) ?? 0;
  const before = refused();
  disk?.fill();
  for (const end = Date.now() + MOST_FULL_MS; refused() - before < 5 && Date.now() < end; ) await sleep(20);
  const taken = meanwhile(scene);
  await sleep(chance.unit() * 3_000);
  disk?.free();
  return taken;
}
