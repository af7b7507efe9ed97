import { blockedShareOfDepth } from './segment.js';

/** A round pipe part full with an open surface, each value over that of the full pipe, same fall and roughness. */
export interface PartFull {
  areaShare: number;
  hydraulicRadiusShare: number;
  flowShare: number;
  speedShare: number;
}

/**
 * Manning's flow at a depth share y/D, roughness constant with depth.
 *
 * The water fills the segment a deposit of the same depth would; no water touches the free surface, so the
 * wetted perimeter is the arc alone: theta/2π of the full one, theta = 2 acos(1 − 2 y/D).
 */
export function partFull(depthShare: number): PartFull {
  const areaShare = blockedShareOfDepth(depthShare);
  const arcShare = Math.acos(1 - 2 * depthShare) / Math.PI;
  if (arcShare === 0) return { areaShare: 0, hydraulicRadiusShare: 0, flowShare: 0, speedShare: 0 };
  const hydraulicRadiusShare = areaShare / arcShare;
  const speedShare = hydraulicRadiusShare ** (2 / 3);
  return { areaShare, hydraulicRadiusShare, flowShare: areaShare * speedShare, speedShare };
}

/** The depth share at which something of `partFull` is largest; each rises to one top and falls after it. */
function topOf(what: 'flowShare' | 'speedShare'): number {
  let [low, high] = [0.5, 1];
  for (let i = 0; i < 80; i++) {
    const third = (high - low) / 3;
    if (partFull(low + third)[what] < partFull(high - third)[what]) low += third;
    else high -= third;
  }
  return (low + high) / 2;
}

/** A part-full pipe carries most just below full … */
export const DEPTH_OF_MOST_FLOW = topOf('flowShare');
/** … and runs fastest at about four fifths. */
export const DEPTH_OF_MOST_SPEED = topOf('speedShare');

/**
 * Depth share at which a pipe carries `flowShare` of its full flow: the lower of the two depths where there are
 * two (above full flow), since water fills from below. Null when it carries no such flow with an open surface.
 *
 * @throws {RangeError} For a negative flow.
 */
export function depthShareOfFlow(flowShare: number): number | null {
  if (!(flowShare >= 0)) throw new RangeError(`a flow is zero or more: ${flowShare}`);
  if (flowShare > partFull(DEPTH_OF_MOST_FLOW).flowShare) return null;
  let [low, high] = [0, DEPTH_OF_MOST_FLOW];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (partFull(middle).flowShare < flowShare) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
