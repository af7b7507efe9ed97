/**
 * Circular-segment geometry of a flat deposit in a round bore.
 * With theta = 2 acos(1 − 2 d/D): blocked share of the area = (theta − sin theta) / 2π.
 */

/** Angle of the deposit's segment, radians. @param depthShare d/D, 0 to 1. */
function segmentAngle(depthShare: number): number {
  if (!(depthShare >= 0 && depthShare <= 1))
    throw new RangeError(`depth share outside 0 to 1: ${depthShare}`);
  return 2 * Math.acos(1 - 2 * depthShare);
}

/** Share of the bore's area that a flat deposit of depth share d/D blocks. */
export function blockedShareOfDepth(depthShare: number): number {
  const theta = segmentAngle(depthShare);
  return (theta - Math.sin(theta)) / (2 * Math.PI);
}

/** Change of the blocked share with the depth share: (8/π) sqrt(d/D (1 − d/D)), the deposit's top width. */
export function blockedShareSlope(depthShare: number): number {
  segmentAngle(depthShare);
  return (8 / Math.PI) * Math.sqrt(depthShare * (1 - depthShare));
}

/** Perimeter that touches water (arc left and deposit's top) over the clean bore's. */
export function wettedShareOfDepth(depthShare: number): number {
  const theta = segmentAngle(depthShare);
  return (Math.PI - theta / 2 + Math.sin(theta / 2)) / Math.PI;
}

/** Hydraulic diameter of the open part over the bore. */
export function hydraulicDiameterShare(depthShare: number): number {
  return (1 - blockedShareOfDepth(depthShare)) / wettedShareOfDepth(depthShare);
}

/** Manning capacity left, flowing full, same slope and roughness: (Ao/A0)(Rh/R0)^(2/3). */
export function gravityCapacityLeft(depthShare: number): number {
  return (1 - blockedShareOfDepth(depthShare)) * hydraulicDiameterShare(depthShare) ** (2 / 3);
}

/** Hazen-Williams flow left at the same head loss and C: exponent 0.63. */
export function pressureCapacityLeft(depthShare: number): number {
  return (1 - blockedShareOfDepth(depthShare)) * hydraulicDiameterShare(depthShare) ** 0.63;
}

/** The depth share at which a falling capacity curve is down to `left` (0 to 1). */
export function depthShareAtCapacity(curve: (depthShare: number) => number, left: number): number {
  let [low, high] = [0, 1];
  for (let i = 0; i < 50; i++) {
    const middle = (low + high) / 2;
    if (curve(middle) > left) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** The depth share of a flat deposit that blocks `blocked` of the area. */
export function depthShareOfBlocked(blocked: number): number {
  return depthShareAtCapacity((depthShare) => 1 - blockedShareOfDepth(depthShare), 1 - blocked);
}

/** Even coat of thickness t/D: what is left of the width, 1 − 2t/D; blocked share 1 − left². */
export function evenCoat(thicknessShare: number): {
  blocked: number;
  gravityLeft: number;
  pressureLeft: number;
} {
  const left = 1 - 2 * thicknessShare;
  return { blocked: 1 - left * left, gravityLeft: left ** (8 / 3), pressureLeft: left ** 2.63 };
}
