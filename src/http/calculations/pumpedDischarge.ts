import { z } from 'zod';
import type { DischargeLine, Friction } from '../../domain/hydraulics/dischargeLine.js';
import { FITTING_KINDS, type FittingCount } from '../../domain/hydraulics/fittings.js';
import { FORMULAS } from '../../domain/hydraulics/formulas.js';
import { type PipeChanges, pressureC } from '../../domain/hydraulics/pipes.js';
import { litresPerMm } from '../../domain/hydraulics/pitCycle.js';
import { pumpCurve, pumpCurveFault } from '../../domain/hydraulics/pumpCurve.js';
import { type PumpedState, pumpedStates } from '../../domain/hydraulics/pumpedLine.js';
import { USUAL_MARGIN, workLimit } from '../../domain/hydraulics/workLimit.js';
import { shortNumber, type UnitSystem } from '../../domain/units/quantity.js';
import { pumpChart } from '../../papers/pumpChart.js';
import { pumpChartData } from '../../papers/pumpChartData.js';
import { oneLine, reason, share } from '../shapes.js';
import { amount, amountOrNone, answered, out, outOrNull, stored, storedOrNull } from './amounts.js';
import {
  type Assumption,
  assumed,
  assumptions,
  badField,
  basisOf,
  type Calculation,
  sources,
} from './calculation.js';
import { depositBody, knownDeposit } from './depositBody.js';
import { type KnownPipe, knownPipe, pipeBody } from './pipeBody.js';

const fittings = z
  .strictObject(
    Object.fromEntries(FITTING_KINDS.map((kind) => [kind, z.number().int().min(0).max(100).optional()])),
  )
  .meta({
    id: 'FittingCounts',
    description: 'How many of each fitting.',
    example: { swing_check: 1, elbow_90: 3 },
  });

const body = z
  .strictObject({
    name: oneLine(120).optional().describe('of the pump, for the figure'),
    pipe: pipeBody,
    length: amount('length'),
    lift: amountOrNone('length').describe('from the water in the pit to the highest point or the outlet'),
    fittings: fittings.optional(),
    roughness: amount('bore').optional().describe('wall height for Darcy-Weisbach; absent: Hazen-Williams'),
    pumpCurve: z
      .array(z.strictObject({ flow: amountOrNone('flow'), head: amountOrNone('length') }))
      .min(1)
      .max(20),
    deposit: depositBody.optional(),
    pit: z
      .strictObject({ diameter: amount('bore'), floatTravel: amount('bore').describe('between on and off') })
      .optional(),
    inflow: amountOrNone('flow').optional(),
    margin: z.number().min(1).max(10).optional(),
  })
  .meta({
    id: 'PumpedDischargeQuestion',
    example: {
      pipe: { product: 'schedule_40', nominal: '1-1/2' },
      length: { value: 60, unit: 'ft' },
      lift: { value: 9, unit: 'ft' },
      fittings: { swing_check: 1, elbow_90: 3 },
      pumpCurve: [
        { flow: { value: 0, unit: 'gpm' }, head: { value: 22, unit: 'ft' } },
        { flow: { value: 36, unit: 'gpm' }, head: { value: 10, unit: 'ft' } },
      ],
      deposit: { occlusion: 0.36 },
      pit: { diameter: { value: 18, unit: 'in' }, floatTravel: { value: 6, unit: 'in' } },
      inflow: { value: 5, unit: 'gpm' },
    },
  });

const atWork = z
  .object({
    flow: answered('flow'),
    head: answered('length').nullable(),
    speed: answered('speed').nullable(),
    scours: z.boolean(),
    cycleMinutes: z.number().nullable(),
    startsPerHour: z.number().nullable(),
    dutyShare: share.nullable(),
  })
  .meta({ id: 'PumpAtWork', description: 'A pump on its line; no head: it does not lift the water out.' });

const answer = z
  .object({
    bore: answered('bore'),
    clean: atWork,
    fouled: atWork,
    flowLeft: share.nullable().describe('flow fouled over flow clean; null when it never lifted the water'),
    occlusion: share,
    activeVolume: answered('volume').nullable(),
    actionLimit: z.object({ occlusion: share, reason }).nullable(),
    findings: z.array(reason),
    sources,
    assumptions,
  })
  .meta({ id: 'PumpedDischargeAnswer' });

function frictionOf(
  pipe: KnownPipe,
  roughnessMm: number | null,
): { friction: Friction; assumptions: Assumption[] } {
  if (roughnessMm !== null) {
    if (roughnessMm > pipe.boreMm / 10)
      throw badField(
        'roughness',
        `${shortNumber(roughnessMm)} mm in a bore of ${pipe.boreMm.toFixed(1)} mm`,
        'the height of the wall, a fraction of a millimetre',
      );
    return { friction: { law: 'darcy_weisbach', roughnessMm }, assumptions: [] };
  }
  const { c, assumed: isAssumed } = pressureC(pipe);
  return {
    friction: { law: 'hazen_williams', c },
    assumptions: isAssumed
      ? [
          assumed(
            'pipe/hazenWilliamsC',
            c,
            `C ${c}: nobody knows it of this wall; 150 of smooth plastic, less as Manning's n is rougher`,
          ),
        ]
      : [],
  };
}

function given(raw: z.infer<typeof body>, pipes: PipeChanges) {
  const pipe = knownPipe(raw.pipe, pipes);
  const { friction, assumptions } = frictionOf(pipe, storedOrNull(raw.roughness, 'bore'));
  const points = raw.pumpCurve.map((point) => ({
    flowLps: stored(point.flow, 'flow'),
    headM: stored(point.head, 'length'),
  }));
  const fault = pumpCurveFault(points);
  if (fault !== null)
    throw badField(
      'pumpCurve',
      fault,
      'points whose head falls as their flow rises; a single one is the duty point',
    );
  const line: DischargeLine = {
    boreMm: pipe.boreMm,
    lengthM: stored(raw.length, 'length'),
    liftM: stored(raw.lift, 'length'),
    friction,
    fittings: (raw.fittings ?? {}) as FittingCount,
  };
  const pit =
    raw.pit === undefined
      ? null
      : litresPerMm(stored(raw.pit.diameter, 'bore')) * stored(raw.pit.floatTravel, 'bore');
  return {
    pipe,
    line,
    pump: pumpCurve(points),
    deposit: knownDeposit(raw.deposit, pipe.boreMm, 'even_coat'),
    activeVolumeL: pit,
    inflowLps: storedOrNull(raw.inflow, 'flow'),
    margin: raw.margin ?? USUAL_MARGIN,
    assumptions: [
      ...pipe.assumptions.filter(({ facts }) => facts['field'] !== 'pipe/manningN'),
      ...assumptions,
      ...(raw.fittings === undefined ? [assumed('fittings', 0, 'no fittings counted')] : []),
    ],
  };
}

function compute(raw: z.infer<typeof body>, units: UnitSystem, pipes: PipeChanges) {
  const { pipe, line, pump, deposit, activeVolumeL, inflowLps, margin, assumptions } = given(raw, pipes);
  const { clean, fouled } = pumpedStates(pump, line, deposit, { activeVolumeL, inflowLps });
  const limit =
    inflowLps !== null && inflowLps > 0
      ? workLimit({ kind: 'pumped', discharge: line, pump }, { peakInflowLps: inflowLps, margin })
      : null;
  const usesHazen = line.friction.law === 'hazen_williams';
  return {
    bore: out(line.boreMm, 'bore', units),
    clean: shown(clean, units),
    fouled: shown(fouled, units),
    flowLeft: clean.point === null ? null : Math.min(1, (fouled.point?.flowLps ?? 0) / clean.point.flowLps),
    occlusion: deposit.occlusion,
    activeVolume: outOrNull(activeVolumeL, 'volume', units),
    actionLimit:
      limit === null
        ? null
        : { occlusion: limit.occlusion, reason: { code: limit.code, facts: limit.facts, text: limit.text } },
    findings: findings(clean, fouled, inflowLps),
    sources: basisOf(
      usesHazen ? FORMULAS.hazenWilliams : FORMULAS.darcyWeisbach,
      FORMULAS.fittings,
      FORMULAS.pumpCurve,
      { formula: 'bore and C', source: pipe.source },
      deposit.shape === 'even_coat' ? FORMULAS.evenCoat : FORMULAS.segment,
      FORMULAS.scouring,
      ...(activeVolumeL === null ? [] : [FORMULAS.pitCycle]),
    ),
    assumptions: [
      ...assumptions,
      { code: 'clean-wall', facts: {}, text: 'the fouled wall is taken as smooth as the clean one' },
      ...(inflowLps !== null && raw.margin === undefined
        ? [
            assumed(
              'margin',
              margin,
              `the pump must move ${margin} times the inflow given (common practice, no source)`,
            ),
          ]
        : []),
    ],
  };
}

function shown({ point, ...state }: PumpedState, units: UnitSystem) {
  return {
    flow: out(point?.flowLps ?? 0, 'flow', units),
    head: outOrNull(point?.headM ?? null, 'length', units),
    speed: outOrNull(point?.speedMps ?? null, 'speed', units),
    ...state,
  };
}

function findings(clean: PumpedState, fouled: PumpedState, inflowLps: number | null): Assumption[] {
  if (clean.point === null)
    return [
      { code: 'pump-cannot-lift', facts: {}, text: 'the pump cannot lift the water, however clean the line' },
    ];
  if (inflowLps !== null && (fouled.point?.flowLps ?? 0) <= inflowLps)
    return [
      {
        code: 'pump-does-not-catch-up',
        facts: { inflowLps, flowLps: fouled.point?.flowLps ?? 0 },
        text: 'as fouled, the pump moves no more than runs in: it never stops, and the pit fills',
      },
    ];
  return [];
}

function draw(raw: z.infer<typeof body>, units: UnitSystem, pipes: PipeChanges): string {
  const { line, pump, deposit, inflowLps } = given(raw, pipes);
  return pumpChart(pumpChartData(pump, line, deposit, inflowLps, raw.name ?? 'pump', units));
}

export const pumpedDischarge: Calculation = {
  path: 'pumped-discharge',
  operationId: 'calculatePumpedDischarge',
  ruled: true,
  summary: 'What a pump moves through its discharge clean and fouled, how often it starts, whether it scours',
  body,
  answer,
  compute,
  figure: {
    operationId: 'drawPumpCurve',
    summary: 'The pump curve against the clean and the fouled line (SVG)',
    draw,
  },
};
