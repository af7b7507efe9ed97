import { PIPES, type PipeChanges, type PipeData, type PipeProduct } from '../domain/hydraulics/pipes.js';
import type { Stores } from './house.js';
import type { Row } from './ports.js';

/** A product as the service reckons with it. */
export interface HeldPipe extends PipeData {
  product: PipeProduct;
  /** Sizes whose bore is the owner's. */
  changedSizes: string[];
  changedBy: string | null;
  /** 0: nothing of it was changed. */
  version: number;
}

/** The owner's numbers, where they differ from the usual ones. */
export async function heldPipes(stores: Pick<Stores, 'rows'>): Promise<PipeChanges> {
  const rows = await stores.rows.all('pipe_product', [], 'product');
  return Object.fromEntries(rows.map((row) => [String(row['product']), changeOf(row)]));
}

function changeOf(row: Row): Partial<PipeData> {
  return {
    boreMm: row['bore_mm'] as Record<string, number>,
    ...(row['manning_n'] === null ? {} : { n: Number(row['manning_n']) }),
    ...(row['hazen_williams_c'] === null ? {} : { c: Number(row['hazen_williams_c']) }),
    source: String(row['source']),
  };
}

/** The products as they are in force. */
export async function pipesInForce(stores: Pick<Stores, 'rows'>): Promise<HeldPipe[]> {
  const rows = new Map(
    (await stores.rows.all('pipe_product', [], 'product')).map((row) => [String(row['product']), row]),
  );
  return (Object.keys(PIPES) as PipeProduct[]).map((product) => heldPipe(product, rows.get(product)));
}

/** A product with the owner's row on it, where there is one. */
export function heldPipe(product: PipeProduct, row: Row | undefined): HeldPipe {
  const usual = PIPES[product];
  if (row === undefined) return { product, ...usual, changedSizes: [], changedBy: null, version: 0 };
  const change = changeOf(row);
  return {
    product,
    ...usual,
    ...change,
    boreMm: { ...usual.boreMm, ...change.boreMm },
    changedSizes: Object.keys(change.boreMm ?? {}),
    changedBy: String(row['changed_by']),
    version: Number(row['version']),
  };
}
