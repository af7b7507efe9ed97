import { PrismaPg } from '@prisma/adapter-pg';
import type { Pool } from 'pg';
import type { AccessKeyRecord, ImportRecord, Reads, StepRecord } from '../actions/reads.js';
import type { Role, RunState, Step } from '../domain/words.js';
import { PrismaClient } from '../generated/prisma/client.js';
import { poolGauges, readGauges } from './gauges.js';
import { asRefusal } from './refusals.js';

const iso = (at: Date | null): string | null => at?.toISOString() ?? null;

/** Simple reads outside transactions, on the shared pool. */
export function makeReads(pool: Pool): Reads {
  const prisma = new PrismaClient({ adapter: new PrismaPg(pool) });
  return refusingReads({
    async steps(runIds) {
      const rows = await prisma.nightly_step.findMany({
        where: { run_id: { in: [...runIds] } },
        orderBy: [{ run_id: 'asc' }, { position: 'asc' }],
      });
      return rows.map(
        (row): StepRecord => ({
          runId: row.run_id,
          name: row.name as Step,
          state: row.state as RunState,
          progress: row.progress,
          counts: row.counts as Record<string, number>,
          seconds: row.seconds,
        }),
      );
    },

    async accessKeys() {
      const rows = await prisma.access_key.findMany({ omit: { hash: true }, orderBy: { created_at: 'asc' } });
      return rows.map(
        (row): AccessKeyRecord => ({
          id: row.id,
          name: row.name,
          memberId: row.member_id,
          roles: row.roles as Role[],
          expiresAt: iso(row.expires_at),
          revokedAt: iso(row.revoked_at),
          lastUsedAt: iso(row.last_used_at),
          createdAt: row.created_at.toISOString(),
        }),
      );
    },

    gauges: (now) => readGauges(pool, now),
    own: async () => ({ pools: poolGauges({ all: pool }), freeBytes: {}, beatsLost: 0, working: {} }),

    async imports(limit) {
      const rows = await prisma.import_run.findMany({ orderBy: { created_at: 'desc' }, take: limit });
      return rows.map(
        (row): ImportRecord => ({
          id: row.id,
          source: row.source,
          files: row.files,
          counts: row.counts as Record<string, number>,
          askedBy: row.asked_by,
          createdAt: row.created_at.toISOString(),
        }),
      );
    },
  });
}

/** The same questions, whose failures are refusals. */
function refusingReads<R extends object>(reads: R): R {
  const guarded = Object.entries(reads as Record<string, (...args: never[]) => Promise<unknown>>).map(
    ([name, read]) => [
      name,
      (...args: never[]) =>
        read(...args).catch((error: unknown) => {
          throw asRefusal(error);
        }),
    ],
  );
  return Object.fromEntries(guarded) as R;
}
