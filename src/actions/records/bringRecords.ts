import { v7 as newId } from 'uuid';
import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { Refused } from '../problems.js';
import { RECORD_KINDS } from './recordKinds.js';
import type { RecordTable, RowRefused } from './recordStore.js';

/** The rows of one kind's file, each with its line. */
export interface BroughtKind {
  name: string;
  table: string;
  rows: { line: number; row: Row }[];
}

/** What the database refused: in which file, and in which line and column where that can be told. */
export interface RecordRefused {
  name: string;
  line: number | null;
  column: string | null;
  value: string | null;
  problem: string;
  remedy: string;
}

export interface RecordCounts {
  fresh: Record<string, number>;
  alreadyThere: number;
}

class Undone extends Error {
  readonly refused: RecordRefused | null;
  constructor(refused: RecordRefused | null) {
    super('undone');
    this.refused = refused;
  }
}

/**
 * Brings whole records in, ids and all, in one transaction. Rows whose id is there stay as they are; routes, dates and
 * what else the night computes follow from the next night.
 *
 * @returns Counts, or the row that the database refused; then nothing is kept.
 * @throws {Refused} While another import writes.
 */
export async function bringRecords(
  house: House,
  actor: Pick<Actor, 'name'>,
  brought: readonly BroughtKind[],
  {
    dryRun = false,
    onProgress,
  }: { dryRun?: boolean; onProgress?: (share: number, what: string) => void } = {},
): Promise<RecordCounts | { refused: RecordRefused }> {
  let counts: RecordCounts = { fresh: {}, alreadyThere: 0 };
  try {
    return await house.transact(actor, async (stores) => {
      counts = await bringAll(stores, actor, brought, onProgress);
      if (dryRun) throw new Undone(null);
      return counts;
    });
  } catch (error) {
    if (!(error instanceof Undone)) throw error;
    return error.refused === null ? counts : { refused: error.refused };
  }
}

async function bringAll(
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  brought: readonly BroughtKind[],
  onProgress?: (share: number, what: string) => void,
): Promise<RecordCounts> {
  if (!(await stores.imports.takeTurn()))
    throw new Refused({
      code: 'busy',
      detail:
        'Another import is under way; nothing of this one was kept. Start it again when that has ended.',
    });
  const tables = new Map((await stores.records.tables()).map((table) => [table.table, table]));
  const place = new Map(RECORD_KINDS.map(({ table }, i) => [table, i]));
  const inOrder = [...brought].sort((a, b) => (place.get(a.table) ?? 0) - (place.get(b.table) ?? 0));
  const counts: RecordCounts = { fresh: {}, alreadyThere: 0 };
  const toLink: { kind: BroughtKind; table: RecordTable; later: string[] }[] = [];
  for (const [i, kind] of inOrder.entries()) {
    onProgress?.(i / inOrder.length, kind.name);
    const table = tables.get(kind.table);
    if (!table) throw new RangeError(`there is no table ${kind.table}`);
    const later = table.columns
      .filter(
        ({ refersTo }) => refersTo !== null && (place.get(refersTo) ?? -1) > (place.get(kind.table) ?? 0),
      )
      .map(({ name }) => name);
    const done = await stores.records.bring(
      table,
      kind.rows.map(({ row }) => row),
      later,
    );
    if (!('fresh' in done)) throw new Undone(refusedIn(kind, done));
    counts.fresh[kind.name] = done.fresh;
    counts.alreadyThere += kind.rows.length - done.fresh;
    if (later.length > 0 && kind.rows.length > 0) toLink.push({ kind, table, later });
  }
  for (const { kind, table, later } of toLink) {
    const refused = await stores.records.link(table, later);
    if (refused !== null) throw new Undone(refusedIn(kind, refused));
  }
  const refused = await stores.records.settle();
  if (refused !== null) throw new Undone(refusedIn({ name: 'records', table: '', rows: [] }, refused));
  await stores.rows.insert('import_run', {
    id: newId(),
    source: 'records',
    asked_by: actor.name,
    counts: { ...counts.fresh, alreadyThere: counts.alreadyThere },
    files: Object.fromEntries(brought.map(({ name, rows }) => [name, rows.length])),
  });
  onProgress?.(1, 'done');
  return counts;
}

function refusedIn({ name, rows }: BroughtKind, { by, column, problem, remedy }: RowRefused): RecordRefused {
  const told = Object.entries(by);
  const found =
    told.length === 0
      ? undefined
      : rows.findLast(({ row }) => told.every(([of, value]) => String(row[of] ?? '') === String(value)));
  const value = column === null ? null : (found?.row[column] ?? null);
  return {
    name,
    line: found?.line ?? null,
    column,
    value: value === null ? null : String(value),
    problem,
    remedy,
  };
}
