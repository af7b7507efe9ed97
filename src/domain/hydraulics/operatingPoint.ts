import { CLEAN, type DischargeLine, type Fouling, headNeededM, speedMps } from './dischargeLine.js';
import type { PumpCurve } from './pumpCurve.js';

/** Where a pump and its discharge agree. */
export interface OperatingPoint {
  flowLps: number;
  headM: number;
  /** In what the deposit leaves open. */
  speedMps: number;
}

/** What a pump moves through a discharge; null when it cannot even lift the water. */
export function operatingPoint(
  pump: PumpCurve,
  line: DischargeLine,
  fouling: Fouling = CLEAN,
): OperatingPoint | null {
  if (pump.shutOffM <= line.liftM) return null;
  let [low, high] = [0, pump.runOutLps];
  for (let i = 0; i < 60; i++) {
    const flowLps = (low + high) / 2;
    if (pump.headM(flowLps) > headNeededM(line, flowLps, fouling)) low = flowLps;
    else high = flowLps;
  }
  const flowLps = (low + high) / 2;
  return { flowLps, headM: pump.headM(flowLps), speedMps: speedMps(line.boreMm, flowLps, fouling) };
}

/** A nearly closed line and a nearly still one, where numbers end. */
const ALMOST_CLOSED = 0.9999;
const LEAST_SHARE = 1e-6;

/**
 * Occlusion at which a pump moves `share` of what it moved through the clean line: the question of a draw-down.
 * 0 for a share of one or more; null when the pump cannot lift the water at all.
 */
export function occlusionOfPumpedShare(
  pump: PumpCurve,
  line: DischargeLine,
  share: number,
  shape: Fouling['shape'] = 'even_coat',
): number | null {
  const clean = operatingPoint(pump, line);
  if (clean === null) return null;
  if (share >= 1) return 0;
  // The pump gives one head at that flow; what the line takes at it rises with the deposit.
  const flowLps = Math.max(share, LEAST_SHARE) * clean.flowLps;
  const headM = pump.headM(flowLps);
  let [low, high] = [0, ALMOST_CLOSED];
  for (let i = 0; i < 50; i++) {
    const occlusion = (low + high) / 2;
    if (headNeededM(line, flowLps, { occlusion, shape }) < headM) low = occlusion;
    else high = occlusion;
  }
  return (low + high) / 2;
}
