import {
  CLEAN,
  type DischargeLine,
  type Fouling,
  flowAtSpeedLps,
  headNeededM,
} from '../domain/hydraulics/dischargeLine.js';
import { operatingPoint } from '../domain/hydraulics/operatingPoint.js';
import type { PumpCurve } from '../domain/hydraulics/pumpCurve.js';
import { SCOURING_MPS } from '../domain/hydraulics/scouring.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { quantityText, shareText } from './printed.js';
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
    `${quantityText(line.lengthM, 'length', units)} and fittings`,
    `${quantityText(line.liftM, 'length', units)} lift; fouled: ${shareText(fouling.occlusion)} of the bore blocked`,
  ].join(', ');
}

function meeting(pump: PumpCurve, line: DischargeLine, fouling: Fouling): HeadPoint | null {
  const point = operatingPoint(pump, line, fouling);
  return point === null ? null : { flowLps: point.flowLps, headM: point.headM };
}
