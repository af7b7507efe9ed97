import { z } from 'zod';
import { Refused } from '../../actions/problems.js';
import { PIPE_PRODUCTS, type PipeChanges, roughnessOf } from '../../domain/hydraulics/pipes.js';
import { pumpCurveFault } from '../../domain/hydraulics/pumpCurve.js';
import { methodBasis } from '../../domain/readings/methodBasis.js';
import { occlusionOf } from '../../domain/readings/occlusionOf.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import { BOUNDS, DEPOSITS, LINE_KINDS, MATERIALS, PLUG_CAUSES } from '../../domain/words.js';
import { readingOf, readingSchema } from '../findingShapes.js';
import { share } from '../shapes.js';
import { amount, amountOrNone, stored, storedOrNull } from './amounts.js';
import { assumptions, badField, basisOf, type Calculation, sources } from './calculation.js';

const body = z
  .strictObject({
    kind: z.enum(LINE_KINDS),
    material: z.enum(MATERIALS).optional(),
    bore: amount('bore').optional(),
    slope: amount('slope').optional(),
    product: z.enum(PIPE_PRODUCTS).optional().describe('its roughness, where none is given'),
    manningN: z.number().min(0.005).max(0.1).optional(),
    hazenWilliamsC: z.number().min(40).max(160).optional(),
    length: amount('length').optional(),
    lift: amountOrNone('length').optional(),
    pumpCurve: z
      .array(z.strictObject({ flow: amountOrNone('flow'), head: amountOrNone('length') }))
      .min(1)
      .max(20)
      .optional(),
    deposit: z.enum(DEPOSITS).optional(),
    cleanDrawdown: amount('bore')
      .optional()
      .describe('rise and fall together, in a minute, after the last clean'),
    cleanFlow: amount('flow').optional().describe('what came out after the last clean with the same pump'),
    reading: readingSchema.optional(),
    plugged: z.strictObject({ cause: z.enum(PLUG_CAUSES) }).optional(),
  })
  .meta({
    id: 'OcclusionQuestion',
    example: {
      kind: 'footing_drain',
      bore: { value: 4, unit: 'in' },
      reading: { method: 'outlet_depth', depth: { value: 1.5, unit: 'in' } },
    },
  });

const answer = z
  .object({
    occlusion: share,
    standardError: z.number(),
    bound: z.enum(BOUNDS),
    foulingWeight: z.number().describe('1 is fouling, 0 is not (ice, roots, a crushed pipe)'),
    conversionVersion: z.number().int(),
    sources,
    assumptions,
  })
  .meta({ id: 'OcclusionAnswer' });

function compute(raw: z.infer<typeof body>, _units: UnitSystem, pipes: PipeChanges) {
  if ((raw.reading === undefined) === (raw.plugged === undefined))
    throw badField('reading', 'one reading is converted', 'give reading, or plugged with its cause');
  const points = raw.pumpCurve?.map((point) => ({
    flowLps: stored(point.flow, 'flow'),
    headM: stored(point.head, 'length'),
  }));
  const fault = points ? pumpCurveFault(points) : null;
  if (fault !== null)
    throw badField(
      'pumpCurve',
      fault,
      'points whose head falls as their flow rises; a single one is the duty point',
    );
  const reading = raw.reading
    ? readingOf(raw.reading)
    : { method: 'by_word' as const, plugged: raw.plugged?.cause ?? ('unknown' as const) };
  const wall = roughnessOf(raw.product, raw.material ?? 'unknown', pipes);
  const got = occlusionOf(reading, {
    kind: raw.kind,
    material: raw.material ?? 'unknown',
    boreMm: storedOrNull(raw.bore, 'bore'),
    slope: storedOrNull(raw.slope, 'slope'),
    cleanDrawdownMmPerMinute: storedOrNull(raw.cleanDrawdown, 'bore'),
    cleanFlowLps: storedOrNull(raw.cleanFlow, 'flow'),
    lengthM: storedOrNull(raw.length, 'length'),
    manningN: raw.manningN ?? wall.n,
    hazenWilliamsC: raw.hazenWilliamsC ?? (raw.manningN === undefined ? wall.c : null),
    liftM: storedOrNull(raw.lift, 'length'),
    pumpCurve: points ?? null,
    deposit: raw.deposit ?? 'unknown',
  });
  if (!got.ok)
    throw new Refused({
      code: 'rule-broken',
      rule: 'reading',
      faults: got.faults.map(({ pointer, detail, remedy }) => ({ pointer, detail, remedy })),
    });
  const { occlusion, standardError, bound, foulingWeight, conversionVersion, notes } = got;
  return {
    occlusion,
    standardError,
    bound,
    foulingWeight,
    conversionVersion,
    sources: basisOf(...methodBasis(reading)),
    assumptions: notes,
  };
}

export const occlusion: Calculation = {
  path: 'occlusion',
  operationId: 'calculateOcclusion',
  ruled: true,
  summary: 'What a reading says of the bore: share of the area blocked, with its standard error',
  body,
  answer,
  compute,
};
