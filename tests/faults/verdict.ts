import type { Pool } from 'pg';
import type { Ledger } from './writers.js';

export interface Verdict {
  lost: string[];
  doubled: string[];
  halfWritten: string[];
  stuck: string[];
}

const BATCH = 5;

/** Holds what was acknowledged against what is on record. Writes never acknowledged may be there or not. */
export async function judge(pool: Pool, ledger: Ledger): Promise<Verdict> {
  const verdict: Verdict = { lost: [], doubled: [], halfWritten: [], stuck: [] };
  const clients = (await pool.query('SELECT id, name, note, version FROM client WHERE external_ref IS NULL'))
    .rows;
  const byId = new Map(clients.map((row) => [row.id as string, row]));
  for (const [id, name] of ledger.clients)
    if (byId.get(id)?.name !== name) verdict.lost.push(`client ${id} ${name}`);

  const perName = counted(clients, (row) => row.name);
  for (const name of ledger.keyed) if (!perName.has(name)) verdict.lost.push(name);
  for (const [name, n] of perName) if (n > 1) verdict.doubled.push(`${name}: ${n} times`);

  const perBatch = counted(
    clients.filter((row) => String(row.note).startsWith('batch ')),
    (row) => row.note,
  );
  for (const note of ledger.batches) if (!perBatch.has(note)) verdict.lost.push(note);
  for (const [note, n] of perBatch) if (n !== BATCH) verdict.halfWritten.push(`${note}: ${n} of ${BATCH}`);

  for (const [id, { note, version }] of ledger.counters) {
    const row = byId.get(id);
    // One more than acknowledged: the last change, whose answer nobody heard.
    const isMore = row?.version === version + 1 && row?.note === `count ${note + 1}`;
    const isSame = row?.version === version && (note === 0 || row?.note === `count ${note}`);
    if (!isMore && !isSame)
      verdict.lost.push(`change ${note} of ${id}: it is ${row?.note} at version ${row?.version}`);
  }

  const inspections = new Map(
    (await pool.query(`SELECT id, (raw ->> 'share')::float8 AS share FROM inspection`)).rows.map((row) => [
      row.id,
      row.share,
    ]),
  );
  for (const [id, share] of ledger.inspections)
    if (inspections.get(id) !== share) verdict.lost.push(`inspection ${id}`);

  const logged = await pool.query(
    `SELECT c.id FROM client c WHERE (SELECT count(*) FROM change_log l WHERE l.resource = 'client' AND l.row_id = c.id) <> c.version`,
  );
  for (const { id } of logged.rows) verdict.halfWritten.push(`change log of client ${id}`);

  const runs = await pool.query(`SELECT business_day, state FROM nightly_run WHERE state <> 'done'`);
  for (const { business_day, state } of runs.rows) verdict.stuck.push(`night of ${business_day} is ${state}`);
  return verdict;
}

function counted<T>(rows: readonly T[], keyOf: (row: T) => string): Map<string, number> {
  const counts = new Map<string, number>();
  for (const row of rows) counts.set(keyOf(row), (counts.get(keyOf(row)) ?? 0) + 1);
  return counts;
}
