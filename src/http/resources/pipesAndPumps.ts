import type { Stores } from '../../actions/house.js';
import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';
import { rederiveLines } from '../../actions/rederive.js';
import { PIPE_PRODUCTS, PIPES, type PipeProduct } from '../../domain/hydraulics/pipes.js';
import { type PumpPoint, pumpCurveFault } from '../../domain/hydraulics/pumpCurve.js';

const productOf = (row: Row): PipeProduct | null =>
  PIPE_PRODUCTS.find((product) => product === row['product']) ?? null;

const sizeOf = (product: PipeProduct, nominal: unknown): number | null =>
  typeof nominal === 'string' && Object.hasOwn(PIPES[product].boreMm, nominal)
    ? (PIPES[product].boreMm[nominal] ?? null)
    : null;

/** Bore and material of a known product where the section names them by its nominal size. */
export function withProductSize(row: Row): Row {
  const product = productOf(row);
  if (product === null) return row;
  const boreMm = row['bore_mm'] ?? sizeOf(product, row['nominal']);
  const material = row['material'] ?? PIPES[product].material;
  return { ...row, material, ...(boreMm === null ? {} : { bore_mm: boreMm }) };
}

/** A known product in a size it is not made in, with no bore of its own, is a slip. */
export function refuseSize(row: Row): void {
  const product = productOf(row);
  if (product === null || row['bore_mm'] != null || row['nominal'] == null) return;
  if (sizeOf(product, row['nominal']) !== null) return;
  const sizes = Object.keys(PIPES[product].boreMm).join(', ');
  throw ruleBroken(
    'pipe-size',
    '#/nominal',
    `${product} is not known in ${String(row['nominal'])} in`,
    `one of ${sizes}, or give the bore`,
  );
}

/** A pump's curve falls, or nothing can be reckoned from it. */
export function refuseCurve(row: Row): void {
  const curve = row['curve'] as readonly PumpPoint[] | null | undefined;
  const fault = curve ? pumpCurveFault(curve) : null;
  if (fault !== null)
    throw ruleBroken('pump-curve', '#/curve', fault, 'points whose head falls as their flow rises');
}

/** What was read stays; what it means follows what is known of the line. */
export async function rederiveOf(stores: Stores, lineIds: readonly unknown[]): Promise<void> {
  await rederiveLines(stores, lineIds.map(String));
}

export async function rederiveOfPump(stores: Stores, pump: Row): Promise<void> {
  const pit = await stores.rows.get('pit', String(pump['pit_id']));
  if (pit && pit['discharge_line_id'] !== null) await rederiveOf(stores, [pit['discharge_line_id']]);
}
