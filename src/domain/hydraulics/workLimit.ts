import type { DischargeLine } from './dischargeLine.js';
import { fullFlow } from './manning.js';
import { occlusionOfPumpedShare, operatingPoint } from './operatingPoint.js';
import type { PumpCurve } from './pumpCurve.js';
import { blockedShareOfDepth, depthShareAtCapacity, gravityCapacityLeft } from './segment.js';

/** What must get through: the highest inflow known, and how much more for safety. */
export interface Demand {
  peakInflowLps: number;
  /** The line still carries this many times the highest inflow. */
  margin: number;
}

/** Common practice, no source: the highest inflow anyone saw is not the highest there is. */
export const USUAL_MARGIN = 1.5;

export interface WorkLimit {
  /** Past it the line no longer carries what it must; 0 when it does not even when clean. */
  occlusion: number;
  code: 'line-no-longer-carries' | 'line-too-small' | 'pump-too-weak';
  facts: { cleanFlowLps: number; neededFlowLps: number };
  text: string;
}

export type Line =
  | { kind: 'gravity'; boreMm: number; slope: number; n: number }
  | { kind: 'pumped'; discharge: DischargeLine; pump: PumpCurve };

/** The occlusion at which a line no longer does its work. */
export function workLimit(line: Line, demand: Demand): WorkLimit {
  if (!(demand.peakInflowLps > 0 && demand.margin >= 1)) {
    throw new RangeError('a demand has an inflow above zero and a margin of one or more');
  }
  const neededFlowLps = demand.peakInflowLps * demand.margin;
  const cleanFlowLps =
    line.kind === 'gravity'
      ? fullFlow(line.boreMm, line.slope, line.n).flowLps
      : (operatingPoint(line.pump, line.discharge)?.flowLps ?? 0);
  const facts = { cleanFlowLps, neededFlowLps };
  if (line.kind === 'pumped' && cleanFlowLps === 0) {
    const { liftM } = line.discharge;
    return {
      occlusion: 0,
      code: 'pump-too-weak',
      facts,
      text: `the pump lifts no more than ${line.pump.shutOffM.toFixed(1)} m, the line rises ${liftM.toFixed(1)} m: not a drop gets through`,
    };
  }
  if (cleanFlowLps < neededFlowLps) {
    return {
      occlusion: 0,
      code: 'line-too-small',
      facts,
      text: `even clean it carries ${show(cleanFlowLps)} L/s; ${show(neededFlowLps)} L/s must get through`,
    };
  }
  const share = neededFlowLps / cleanFlowLps;
  const occlusion =
    line.kind === 'gravity'
      ? blockedShareOfDepth(depthShareAtCapacity(gravityCapacityLeft, share))
      : (occlusionOfPumpedShare(line.pump, line.discharge, share) ?? 0);
  return {
    occlusion,
    code: 'line-no-longer-carries',
    facts,
    text: `past ${Math.round(occlusion * 100)} % it carries less than the ${show(neededFlowLps)} L/s that must get through`,
  };
}

const show = (flowLps: number): string => flowLps.toFixed(2);

export interface ActionLimit {
  occlusion: number;
  /** Set when hydraulics lowered the limit, or found that no limit helps. */
  reason: WorkLimit | null;
}

/**
 * The action limit of a line: its kind's, lowered where the line stops doing its work before that.
 * A line too small, or a pump too weak, even when clean keeps its kind's limit: cleaning does not widen it, the reason is a finding.
 */
export function actionLimit(usual: number, work: WorkLimit | null): ActionLimit {
  if (work === null) return { occlusion: usual, reason: null };
  if (work.code !== 'line-no-longer-carries') return { occlusion: usual, reason: work };
  return work.occlusion < usual
    ? { occlusion: work.occlusion, reason: work }
    : { occlusion: usual, reason: null };
}
