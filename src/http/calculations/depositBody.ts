import { z } from 'zod';
import type { DepositShape } from '../../domain/hydraulics/openSection.js';
import { blockedShareOfDepth, evenCoat } from '../../domain/hydraulics/segment.js';
import { amountOrNone, stored } from './amounts.js';
import { badField } from './calculation.js';

const shape = z.enum(['even_coat', 'flat_deposit']);

/** How much of the bore is gone: as a share of its area, or as a depth measured. */
export const depositBody = z
  .union([
    z.strictObject({ occlusion: z.number().min(0).max(0.99), shape: shape.optional() }),
    z.strictObject({
      depth: amountOrNone('bore').describe('of a flat deposit, or thickness of an even coat'),
      shape,
    }),
  ])
  .meta({
    id: 'DepositOfCalculation',
    description: 'Share of the area blocked and how it lies, or its depth (flat) or thickness (even coat).',
    example: { occlusion: 0.3, shape: 'flat_deposit' },
  });

export interface KnownDeposit {
  occlusion: number;
  shape: DepositShape;
}

/** Past it nothing measurable gets through. */
const MOST_OCCLUSION = 0.99;

/** @throws {Refused} For a deposit deeper than the bore. */
export function knownDeposit(body: unknown, boreMm: number, usual: DepositShape): KnownDeposit {
  if (body === undefined || body === null) return { occlusion: 0, shape: usual };
  const deposit = body as z.infer<typeof depositBody>;
  if ('occlusion' in deposit) return { occlusion: deposit.occlusion, shape: deposit.shape ?? usual };
  const depthMm = stored(deposit.depth, 'bore');
  const mostMm = deposit.shape === 'flat_deposit' ? boreMm : boreMm / 2;
  const occlusion =
    depthMm > mostMm
      ? 1
      : deposit.shape === 'flat_deposit'
        ? blockedShareOfDepth(depthMm / boreMm)
        : evenCoat(depthMm / boreMm).blocked;
  if (occlusion > MOST_OCCLUSION) {
    throw badField(
      'deposit/depth',
      `fills the bore of ${boreMm.toFixed(1)} mm: nothing gets through`,
      `less than ${mostMm.toFixed(1)} mm; a plugged line has no flow to reckon`,
    );
  }
  return { occlusion, shape: deposit.shape };
}
