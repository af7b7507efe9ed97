import { fullFlow } from '../hydraulics/manning.js';
import { ROUGHNESS_N } from '../hydraulics/pipes.js';
import { blockedShareOfDepth, depthShareAtCapacity, gravityCapacityLeft } from '../hydraulics/segment.js';
import type { PartRead, ReadingFacts } from './reading.js';

/** Taken where nobody knows. Common practice, no source: a four inch line at an eighth of an inch a foot. */
const ASSUMED_BORE_MM = 100;
const ASSUMED_SLOPE = 0.01;
/** How far the clean capacity may be off: roughness alone, and with a fact assumed (common practice, no source). */
const CAPACITY_ERROR_SHARE = 0.15;
const CAPACITY_ERROR_SHARE_ASSUMED = 0.4;
/** No flow test tells the occlusion closer than this. */
const LEAST_ERROR = 0.05;

/**
 * A flow that a gravity line carries, or does not.
 *
 * Water that runs off proves "carries at least this": no more than so much is blocked. Water that backs up
 * proves the contrary. The occlusion is that of a flat deposit which leaves just this flow (Manning, full bore).
 */
export function gravityFlowRead(
  flowLps: number,
  flowErrorShare: number,
  backsUp: boolean,
  facts: ReadingFacts,
): PartRead {
  const boreMm = facts.boreMm ?? ASSUMED_BORE_MM;
  const slope = facts.slope !== null && facts.slope > 0 ? facts.slope : ASSUMED_SLOPE;
  const n = facts.manningN ?? ROUGHNESS_N[facts.material];
  const assumed = boreMm !== facts.boreMm || slope !== facts.slope;
  const share = flowLps / fullFlow(boreMm, slope, n).flowLps;
  const errorShare = Math.hypot(
    flowErrorShare,
    assumed ? CAPACITY_ERROR_SHARE_ASSUMED : CAPACITY_ERROR_SHARE,
  );
  const blocked = (left: number) =>
    blockedShareOfDepth(depthShareAtCapacity(gravityCapacityLeft, Math.min(1, left)));
  const spread = (blocked(share / (1 + errorShare)) - blocked(share * (1 + errorShare))) / 2;
  const text = `bore ${boreMm} mm and fall ${(slope * 100).toFixed(1)} % were assumed where unknown`;
  return {
    occlusion: blocked(share),
    standardError: Math.max(LEAST_ERROR, spread),
    bound: backsUp ? 'at_least' : 'at_most',
    notes: assumed ? [{ code: 'facts-assumed', facts: { boreMm, slope }, text }] : [],
  };
}
