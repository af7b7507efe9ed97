import { v7 as newId } from 'uuid';
import { PIPES, type PipeProduct } from '../domain/hydraulics/pipes.js';
import { type HeldPipe, heldPipe } from './heldPipes.js';
import type { Stores } from './house.js';
import type { Actor, Row } from './ports.js';
import { Refused } from './problems.js';
import { rederiveLines } from './rederive.js';

/** What an owner measured or decided of a product. Null: the usual number again; absent: as it was. */
export interface PipeChange {
  boreMm?: Record<string, number | null>;
  n?: number | null;
  c?: number | null;
  source: string;
}

async function lockedPipe(stores: Stores, product: PipeProduct): Promise<Row | undefined> {
  const [row] = await stores.rows.all(
    'pipe_product',
    [{ column: 'product', is: '=', value: product }],
    'product',
  );
  return row === undefined
    ? undefined
    : ((await stores.rows.lock('pipe_product', String(row['id']))) ?? undefined);
}

/**
 * Takes the owner's numbers of a product: sections that had the table's bore take the new one, and every reading of
 * its lines is derived again.
 *
 * @returns The product in force, and how many readings say something else now.
 * @throws {Refused} `rule-broken` for a size the product is not known in, or what `checkVersion` throws.
 */
export async function changePipe(
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  product: PipeProduct,
  change: PipeChange,
  checkVersion: (version: number) => void,
): Promise<{ pipe: HeldPipe; readingsChanged: number }> {
  refuseSizes(product, Object.keys(change.boreMm ?? {}));
  refuseBores(product, change.boreMm ?? {});
  const row = await lockedPipe(stores, product);
  const before = heldPipe(product, row);
  checkVersion(before.version);
  const bores = { ...((row?.['bore_mm'] ?? {}) as Record<string, number | null>), ...change.boreMm };
  const next: Row = {
    bore_mm: Object.fromEntries(Object.entries(bores).filter(([, bore]) => bore !== null)),
    manning_n: change.n === undefined ? (row?.['manning_n'] ?? null) : change.n,
    hazen_williams_c: change.c === undefined ? (row?.['hazen_williams_c'] ?? null) : change.c,
    source: change.source,
    changed_by: actor.name,
  };
  const kept = row
    ? await stores.rows.update('pipe_product', String(row['id']), next)
    : await stores.rows.insert('pipe_product', { id: newId(), product, ...next });
  const pipe = heldPipe(product, kept ?? undefined);
  return { pipe, readingsChanged: await followed(stores, before, pipe) };
}

/** Puts a product back to its usual numbers. */
export async function resetPipe(
  stores: Stores,
  product: PipeProduct,
  checkVersion: (version: number) => void,
): Promise<{ pipe: HeldPipe; readingsChanged: number }> {
  const row = await lockedPipe(stores, product);
  const before = heldPipe(product, row);
  checkVersion(before.version);
  if (row) await stores.rows.remove('pipe_product', String(row['id']));
  const pipe = heldPipe(product, undefined);
  return { pipe, readingsChanged: await followed(stores, before, pipe) };
}

async function followed(stores: Stores, before: HeldPipe, now: HeldPipe): Promise<number> {
  for (const [nominal, boreMm] of Object.entries(now.boreMm)) {
    const old = before.boreMm[nominal] ?? boreMm;
    if (old !== boreMm) await stores.work.setBoreOfSize(now.product, nominal, old, boreMm);
  }
  return rederiveLines(stores, await stores.work.linesOfProduct(now.product));
}

/** A bore this far from the usual one of its size is a slip of the unit (common practice, no source). */
const BORE_OFF = 0.2;

function refuseBores(product: PipeProduct, bores: Record<string, number | null>): void {
  const mm = (value: number) => `${Math.round(value * 10) / 10} mm (${(value / 25.4).toFixed(2)} in)`;
  const faults = Object.entries(bores).flatMap(([nominal, bore]) => {
    const usual = PIPES[product].boreMm[nominal];
    if (bore === null || usual === undefined || Math.abs(bore / usual - 1) <= BORE_OFF) return [];
    return [
      {
        pointer: `#/bores/${nominal}`,
        detail: `${mm(bore)} is no bore of ${product} in ${nominal} in`,
        remedy: `${mm(usual * (1 - BORE_OFF))} to ${mm(usual * (1 + BORE_OFF))}; another pipe is recorded by its bore`,
      },
    ];
  });
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'pipe-bores', faults });
}

function refuseSizes(product: PipeProduct, sizes: readonly string[]): void {
  const known = Object.keys(PIPES[product].boreMm);
  const faults = sizes
    .filter((nominal) => !known.includes(nominal))
    .map((nominal) => ({
      pointer: `#/bores/${nominal}`,
      detail: `${product} is not known in ${nominal} in`,
      remedy: `one of ${known.join(', ')}; another size is recorded by its bore`,
    }));
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'pipe-size', faults });
}
