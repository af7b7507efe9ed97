import { flowOfLevelLps } from './pitCycle.js';
import { type PumpPoint, pumpCurve, pumpCurveFault } from './pumpCurve.js';
import { actionLimit, USUAL_MARGIN, type WorkLimit, workLimit } from './workLimit.js';

/** What must be known of a discharge before hydraulics may lower its limit; null is unknown. */
export interface DischargeFacts {
  boreMm: number | null;
  lengthM: number | null;
  liftM: number | null;
  /** Hazen-Williams. */
  c: number;
  curve: readonly PumpPoint[] | null;
  /** Highest inflow on the books. */
  inflowLps: number | null;
  pitDiameterMm: number | null;
  /** Fastest rise of the pit anyone read with the pump off, mm a minute. */
  fastestRiseMmPerMinute: number | null;
}

/** A check valve and three elbows: common practice, no source, where nobody counted. */
export const USUAL_FITTINGS = { swing_check: 1, elbow_90: 3 };

/** A clean leaves about .04: a limit much nearer cannot be kept by cleaning. Common practice, no source. */
export const LEAST_ACTION_LIMIT = 0.1;

/**
 * The occlusion at which a pump no longer moves what runs in, with a margin; null while anything it rests on is
 * unknown: a limit is not lowered on an assumption.
 */
export function dischargeWorkLimit(facts: DischargeFacts): WorkLimit | null {
  const { boreMm, lengthM, liftM, c, curve } = facts;
  const peakInflowLps = highestInflowLps(facts);
  if (boreMm === null || lengthM === null || liftM === null || curve === null || peakInflowLps === null)
    return null;
  if (pumpCurveFault(curve) !== null) return null;
  return workLimit(
    {
      kind: 'pumped',
      pump: pumpCurve(curve),
      discharge: {
        boreMm,
        lengthM,
        liftM,
        friction: { law: 'hazen_williams', c },
        fittings: USUAL_FITTINGS,
      },
    },
    { peakInflowLps, margin: USUAL_MARGIN },
  );
}

function highestInflowLps({
  inflowLps,
  pitDiameterMm,
  fastestRiseMmPerMinute,
}: DischargeFacts): number | null {
  const read =
    pitDiameterMm === null || fastestRiseMmPerMinute === null
      ? 0
      : flowOfLevelLps(pitDiameterMm, fastestRiseMmPerMinute);
  const highest = Math.max(inflowLps ?? 0, read);
  return highest > 0 ? highest : null;
}

/** A line's action limit with hydraulics in it, never so low that a clean could not reach it. */
export function loweredActionLimit(usual: number, work: WorkLimit | null) {
  const { occlusion, reason } = actionLimit(usual, work);
  return { occlusion: Math.min(usual, Math.max(LEAST_ACTION_LIMIT, occlusion)), reason };
}
