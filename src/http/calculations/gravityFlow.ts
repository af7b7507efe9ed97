import { z } from 'zod';
import { FORMULAS } from '../../domain/hydraulics/formulas.js';
import { gravityState, runsAt } from '../../domain/hydraulics/gravityLine.js';
import type { PipeChanges } from '../../domain/hydraulics/pipes.js';
import { scours } from '../../domain/hydraulics/scouring.js';
import { USUAL_MARGIN, workLimit } from '../../domain/hydraulics/workLimit.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import { capacityChart } from '../../papers/capacityChart.js';
import { gravityCapacityData } from '../../papers/capacityChartData.js';
import { oneLine, reason, share } from '../shapes.js';
import { amount, answered, out, stored, storedOrNull } from './amounts.js';
import { assumed, assumptions, basisOf, type Calculation, sources } from './calculation.js';
import { depositBody, knownDeposit } from './depositBody.js';
import { knownPipe, pipeBody } from './pipeBody.js';

const body = z
  .strictObject({
    name: oneLine(120).optional().describe('of the line, for the figure'),
    pipe: pipeBody,
    slope: amount('slope'),
    deposit: depositBody.optional(),
    peakInflow: amount('flow').optional().describe('the highest flow that must get through'),
    margin: z.number().min(1).max(10).optional(),
  })
  .meta({
    id: 'GravityFlowQuestion',
    example: {
      pipe: { product: 'sdr_35', nominal: '4' },
      slope: { value: 1, unit: '%' },
      deposit: { occlusion: 0.3, shape: 'flat_deposit' },
    },
  });

const flowing = z.object({ flow: answered('flow'), speed: answered('speed'), carriesSilt: z.boolean() });
const answer = z
  .object({
    bore: answered('bore'),
    manningN: z.number(),
    clean: flowing.describe('running full'),
    fouled: flowing.describe('running full in what the deposit leaves'),
    capacityLeft: share,
    occlusion: share,
    deposit: answered('bore').describe('depth of a flat deposit, thickness of an even coat'),
    peakInClean: z
      .object({ depth: answered('bore'), speed: answered('speed'), carriesSilt: z.boolean() })
      .nullable()
      .describe('how the peak inflow runs in the clean line; null: not asked, or it runs full'),
    actionLimit: z
      .object({ occlusion: share, reason })
      .nullable()
      .describe('past it the line no longer carries the peak'),
    sources,
    assumptions,
  })
  .meta({ id: 'GravityFlowAnswer' });

function given(raw: z.infer<typeof body>, pipes: PipeChanges) {
  const pipe = knownPipe(raw.pipe, pipes);
  const slope = stored(raw.slope, 'slope');
  const deposit = knownDeposit(raw.deposit, pipe.boreMm, 'flat_deposit');
  const peakLps = storedOrNull(raw.peakInflow, 'flow');
  const margin = raw.margin ?? USUAL_MARGIN;
  return { pipe, line: { boreMm: pipe.boreMm, slope, n: pipe.n }, deposit, peakLps, margin };
}

function compute(raw: z.infer<typeof body>, units: UnitSystem, pipes: PipeChanges) {
  const { pipe, line, deposit, peakLps, margin } = given(raw, pipes);
  const state = gravityState(line, deposit.occlusion, deposit.shape);
  const peak = peakLps === null ? null : runsAt(line, peakLps);
  const limit =
    peakLps === null ? null : workLimit({ kind: 'gravity', ...line }, { peakInflowLps: peakLps, margin });
  const shown = ({ flowLps, speedMps }: { flowLps: number; speedMps: number }) => ({
    flow: out(flowLps, 'flow', units),
    speed: out(speedMps, 'speed', units),
    carriesSilt: scours(speedMps, 'silt'),
  });
  return {
    bore: out(pipe.boreMm, 'bore', units),
    manningN: pipe.n,
    clean: shown(state.clean),
    fouled: shown(state.fouled),
    capacityLeft: state.capacityLeft,
    occlusion: deposit.occlusion,
    deposit: out(state.depositMm, 'bore', units),
    peakInClean:
      peak === null
        ? null
        : {
            depth: out(peak.depthMm, 'bore', units),
            speed: out(peak.speedMps, 'speed', units),
            carriesSilt: scours(peak.speedMps, 'silt'),
          },
    actionLimit:
      limit === null
        ? null
        : { occlusion: limit.occlusion, reason: { code: limit.code, facts: limit.facts, text: limit.text } },
    sources: basisOf(
      FORMULAS.manning,
      { formula: 'bore and n', source: pipe.source },
      deposit.shape === 'flat_deposit' ? FORMULAS.segment : FORMULAS.evenCoat,
      FORMULAS.scouring,
      ...(peakLps === null ? [] : [FORMULAS.partFull]),
    ),
    assumptions: [
      ...pipe.assumptions,
      {
        code: 'clean-wall',
        facts: {},
        text: 'the fouled wall is taken as smooth as the clean one: no roughness of ochre is published',
      },
      ...(peakLps !== null && raw.margin === undefined
        ? [
            assumed(
              'margin',
              margin,
              `the line must carry ${margin} times the highest inflow seen (common practice, no source)`,
            ),
          ]
        : []),
    ],
  };
}

function draw(raw: z.infer<typeof body>, units: UnitSystem, pipes: PipeChanges): string {
  const { line, deposit, peakLps, margin } = given(raw, pipes);
  return capacityChart(
    gravityCapacityData(
      line,
      deposit,
      peakLps === null ? null : peakLps * margin,
      raw.name ?? 'gravity line',
      units,
    ),
  );
}

export const gravityFlow: Calculation = {
  path: 'gravity-flow',
  operationId: 'calculateGravityFlow',
  ruled: true,
  summary: 'What a gravity line carries clean and fouled, and the occlusion at which that is too little',
  body,
  answer,
  compute,
  figure: {
    operationId: 'drawGravityCapacity',
    summary: 'Capacity left against the depth of deposit (SVG)',
    draw,
  },
};
