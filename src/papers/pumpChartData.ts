import {
  CLEAN,
  type DischargeLine,
  type Fouling,
  flowAtSpeedLps,
  headNeededM,
} from '../domain/hydraulics/dischargeLine.js';
import { FITTING_KINDS, type Fitting, type FittingCount } from '../domain/hydraulics/fittings.js';
import { operatingPoint } from '../domain/hydraulics/operatingPoint.js';
import type { PumpCurve } from '../domain/hydraulics/pumpCurve.js';
import { SCOURING_MPS } from '../domain/hydraulics/scouring.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { countText, quantityText, shareText } from './printed.js';
import type { HeadPoint, PumpChartData } from './pumpChart.js';

const STEPS = 60;

/** A pump's curve against its discharge clean and as fouled, sampled over the pump's whole range. */
export function pumpChartData(
  pump: PumpCurve,
  line: DischargeLine,
  fouling: Fouling,
  inflowLps: number | null,
  pumpName: string,
  units: UnitSystem,
  cAssumed = false,
): PumpChartData {
  const flows = Array.from({ length: STEPS + 1 }, (_, i) => (i / STEPS) * pump.runOutLps);
  const sampled = (headM: (flowLps: number) => number): HeadPoint[] =>
    flows.map((flowLps) => ({ flowLps, headM: Math.max(0, headM(flowLps)) }));
  return {
    pumpName,
    units,
    basis: basisOf(line, fouling, units, cAssumed),
    pump: sampled((flowLps) => pump.headM(flowLps)),
    clean: sampled((flowLps) => headNeededM(line, flowLps)),
    fouled: sampled((flowLps) => headNeededM(line, flowLps, fouling)),
    cleanPoint: meeting(pump, line, CLEAN),
    fouledPoint: meeting(pump, line, fouling),
    scouringLps: flowAtSpeedLps(line.boreMm, SCOURING_MPS.pressure_line),
    inflowLps,
  };
}

function basisOf(line: DischargeLine, fouling: Fouling, units: UnitSystem, cAssumed: boolean): string {
  const law =
    line.friction.law === 'hazen_williams'
      ? `Hazen-Williams C ${line.friction.c}${cAssumed ? ' (assumed)' : ''}`
      : `Darcy-Weisbach, roughness ${line.friction.roughnessMm} mm`;
  return [
    `${law}, ${quantityText(line.boreMm, 'bore', units)}`,
    quantityText(line.lengthM, 'length', units),
    fittingsText(line.fittings),
    `${quantityText(line.liftM, 'length', units)} lift; fouled: ${shareText(fouling.occlusion)} of the bore blocked`,
  ].join(', ');
}

const FITTING_TEXT: Record<Fitting, readonly [string, string]> = {
  swing_check: ['swing check', 'swing checks'],
  elbow_90: ['90° elbow', '90° elbows'],
  elbow_90_long: ['long 90° elbow', 'long 90° elbows'],
  elbow_45: ['45° elbow', '45° elbows'],
  gate_valve: ['gate valve', 'gate valves'],
};

/** The fittings that were counted, and that none was where none was. */
function fittingsText(counts: FittingCount): string {
  const named = FITTING_KINDS.flatMap((kind) => {
    const count = counts[kind] ?? 0;
    return count === 0 ? [] : [countText(count, ...FITTING_TEXT[kind])];
  });
  return named.length === 0 ? 'no fittings counted' : named.join(' and ');
}

function meeting(pump: PumpCurve, line: DischargeLine, fouling: Fouling): HeadPoint | null {
  const point = operatingPoint(pump, line, fouling);
  return point === null ? null : { flowLps: point.flowLps, headM: point.headM };
}
