import { z } from 'zod';
import {
  boreIsNominal,
  PIPE_PRODUCTS,
  PIPES,
  type PipeChanges,
  type PipeProduct,
  pipeOf,
  roughnessOf,
} from '../../domain/hydraulics/pipes.js';
import { MATERIALS, type Material } from '../../domain/words.js';
import { amount, stored } from './amounts.js';
import { type Assumption, assumed, badField } from './calculation.js';

const NOMINALS = [...new Set(PIPE_PRODUCTS.flatMap((product) => Object.keys(PIPES[product].boreMm)))] as [
  string,
  ...string[],
];

/** A pipe by product and nominal size, or by its own bore. */
export const pipeBody = z
  .union([
    z.strictObject({ product: z.enum(PIPE_PRODUCTS), nominal: z.enum(NOMINALS).describe('inches') }),
    z.strictObject({
      bore: amount('bore'),
      material: z.enum(MATERIALS).optional(),
      manningN: z.number().min(0.005).max(0.1).optional(),
      hazenWilliamsC: z.number().min(40).max(160).optional(),
    }),
  ])
  .meta({
    id: 'PipeOfCalculation',
    description: 'A pipe by product and nominal size in inches, or by bore with what is known of its wall.',
    example: { product: 'sdr_35', nominal: '4' },
  });

export interface KnownPipe {
  boreMm: number;
  n: number;
  /** Hazen-Williams; null for pipe that never runs under pressure. */
  c: number | null;
  material: Material;
  source: string;
  assumptions: Assumption[];
}

/**
 * @param pipes The owner's numbers in place of the usual ones.
 * @throws {Refused} For a size the product is not made in.
 */
export function knownPipe(body: unknown, pipes: PipeChanges, field = 'pipe'): KnownPipe {
  const pipe = body as z.infer<typeof pipeBody>;
  if ('product' in pipe) return byProduct(pipe.product, pipe.nominal, pipes, field);
  const material = pipe.material ?? 'unknown';
  const n = pipe.manningN ?? roughnessOf(null, material, pipes).n;
  return {
    boreMm: stored(pipe.bore, 'bore'),
    n,
    c: pipe.hazenWilliamsC ?? null,
    material,
    source: 'bore as given',
    assumptions:
      pipe.manningN === undefined
        ? [assumed(`${field}/manningN`, n, `Manning's n ${n}: the usual one of ${material} pipe`)]
        : [],
  };
}

function byProduct(product: PipeProduct, nominal: string, pipes: PipeChanges, field: string): KnownPipe {
  if (!Object.hasOwn(PIPES[product].boreMm, nominal)) {
    const sizes = Object.keys(PIPES[product].boreMm).join(', ');
    throw badField(
      `${field}/nominal`,
      `${product} is not known in ${nominal} in`,
      `one of ${sizes}, or the bore`,
    );
  }
  const { boreMm, n, c, material, source } = pipeOf(product, nominal, pipes);
  return {
    boreMm,
    n,
    c,
    material,
    source: `${product} ${nominal} in: ${source}`,
    assumptions: boreIsNominal(product, nominal, pipes)
      ? [assumed(`${field}/bore`, boreMm, `the nominal size, ${nominal} in, is read as the bore`)]
      : [],
  };
}
