import { CLEAN, type DischargeLine, type Fouling } from './dischargeLine.js';
import { type OperatingPoint, operatingPoint } from './operatingPoint.js';
import { cycleMinutes, dutyShare, startsPerHour } from './pitCycle.js';
import type { PumpCurve } from './pumpCurve.js';
import { scours } from './scouring.js';

/** The pit a pump empties: water between its floats and what runs in; null where nobody knows. */
export interface PumpedPit {
  activeVolumeL: number | null;
  inflowLps: number | null;
}

/** A pump at work on a line as it is. */
export interface PumpedState {
  /** Null: the pump does not lift the water out. */
  point: OperatingPoint | null;
  /** Whether the flow carries deposit along. */
  scours: boolean;
  /** From start to start; null without pit or inflow, and where the pump never catches up. */
  cycleMinutes: number | null;
  startsPerHour: number | null;
  /** Share of the time the pump runs; 1: it never stops. */
  dutyShare: number | null;
}

/** The same pump on the clean line and on the fouled one. */
export function pumpedStates(
  pump: PumpCurve,
  line: DischargeLine,
  fouling: Fouling,
  pit: PumpedPit,
): { clean: PumpedState; fouled: PumpedState } {
  return { clean: state(pump, line, CLEAN, pit), fouled: state(pump, line, fouling, pit) };
}

function state(
  pump: PumpCurve,
  line: DischargeLine,
  fouling: Fouling,
  { activeVolumeL, inflowLps }: PumpedPit,
): PumpedState {
  const point = operatingPoint(pump, line, fouling);
  const flowLps = point?.flowLps ?? 0;
  const known = activeVolumeL !== null && inflowLps !== null;
  return {
    point,
    scours: point !== null && scours(point.speedMps, 'pressure_line'),
    cycleMinutes: known ? cycleMinutes(activeVolumeL, flowLps, inflowLps) : null,
    startsPerHour: known ? startsPerHour(activeVolumeL, flowLps, inflowLps) : null,
    dutyShare: inflowLps === null ? null : flowLps === 0 ? 1 : dutyShare(flowLps, inflowLps),
  };
}
