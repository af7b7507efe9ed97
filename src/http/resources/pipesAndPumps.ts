import { z } from 'zod';
import { heldPipes } from '../../actions/heldPipes.js';
import type { Stores } from '../../actions/house.js';
import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';
import { rederiveLines } from '../../actions/rederive.js';
import { tellOfPump } from '../../actions/workLife/newRegime.js';
import { isPipeProduct, PIPES, type PipeChanges, type PipeProduct } from '../../domain/hydraulics/pipes.js';
import { type PumpPoint, pumpCurveFault } from '../../domain/hydraulics/pumpCurve.js';
import { fromStored, type Quantity, toStored } from '../../domain/units/quantity.js';
import { type Field, measured, quantitySchema } from '../fields.js';

const productOf = (row: Row): PipeProduct | null => (isPipeProduct(row['product']) ? row['product'] : null);

function sizeOf(product: PipeProduct, nominal: unknown, pipes: PipeChanges = {}): number | null {
  const bores = { ...PIPES[product].boreMm, ...pipes[product]?.boreMm };
  return typeof nominal === 'string' && Object.hasOwn(bores, nominal) ? (bores[nominal] ?? null) : null;
}

/** Bore and material of a known product where the section names them by its nominal size. */
export async function withProductSize(row: Row, stores: Stores): Promise<Row> {
  const product = productOf(row);
  if (product === null) return row;
  const boreMm = row['bore_mm'] ?? sizeOf(product, row['nominal'], await heldPipes(stores));
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

const point = z
  .strictObject({ flow: measured('flow'), head: measured('lift') })
  .meta({ id: 'GivenPumpPoint' });
const shownPoint = z
  .object({ flow: quantitySchema('flow'), head: quantitySchema('length') })
  .meta({ id: 'PumpPoint', description: 'A point of a pump curve.' });

/** Points of a pump curve as quantities; kept as L/s and m. */
export const pumpCurveField: Field = {
  schema: z.array(point).min(1).max(20),
  view: z.array(shownPoint).nullable(),
  nullable: true,
  toColumn: (value) =>
    (value as { flow: Quantity; head: Quantity }[]).map(({ flow, head }) => ({
      flowLps: toStored(flow, 'flow'),
      headM: toStored(head, 'length'),
    })),
  toView: (value, units) =>
    (value as PumpPoint[] | null)?.map(({ flowLps, headM }) => ({
      flow: fromStored(flowLps, 'flow', units),
      head: fromStored(headM, 'length', units),
    })) ?? null,
};

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

/** A pump's readings follow its curve, and a new pump changes how its discharge fouls. */
export async function heedPump(stores: Stores, pump: Row): Promise<void> {
  const pit = await stores.rows.get('pit', String(pump['pit_id']));
  if (!pit || pit['discharge_line_id'] === null) return;
  await tellOfPump(stores, pump, String(pit['discharge_line_id']));
  await rederiveOf(stores, [pit['discharge_line_id']]);
}
