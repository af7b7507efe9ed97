import { type FullFlow, fullFlow } from './manning.js';
import { type DepositShape, openSection } from './openSection.js';
import { depthShareOfFlow, partFull } from './partFull.js';
import { depthShareOfBlocked, evenCoat, gravityCapacityLeft } from './segment.js';

/** A line that runs by its own fall. */
export interface GravityLine {
  boreMm: number;
  /** Fall over length. */
  slope: number;
  /** Manning, of the clean wall; kept for the fouled one. */
  n: number;
}

/** What a deposit does to it. */
export interface GravityState {
  clean: FullFlow;
  /** Running full over or inside the deposit. */
  fouled: FullFlow;
  /** Flow left over the clean one, 0 to 1. */
  capacityLeft: number;
  /** Depth of a flat deposit or thickness of an even coat. */
  depositMm: number;
}

/** @throws {RangeError} When the occlusion is not from 0 to below 1. */
export function gravityState(line: GravityLine, occlusion: number, shape: DepositShape): GravityState {
  const clean = fullFlow(line.boreMm, line.slope, line.n);
  const open = openSection(line.boreMm, occlusion, shape);
  const speedMps = clean.speedMps * (open.hydraulicDiameterMm / line.boreMm) ** (2 / 3);
  const capacityLeft = gravityLeft(occlusion, shape);
  return {
    clean,
    fouled: { flowLps: clean.flowLps * capacityLeft, speedMps },
    capacityLeft,
    depositMm: depositMm(line.boreMm, occlusion, shape),
  };
}

/** Share of the clean capacity that a deposit leaves a gravity line. */
export function gravityLeft(occlusion: number, shape: DepositShape): number {
  if (shape === 'flat_deposit') return gravityCapacityLeft(depthShareOfBlocked(occlusion));
  return evenCoat((1 - Math.sqrt(1 - occlusion)) / 2).gravityLeft;
}

function depositMm(boreMm: number, occlusion: number, shape: DepositShape): number {
  if (shape === 'flat_deposit') return boreMm * depthShareOfBlocked(occlusion);
  return (boreMm * (1 - Math.sqrt(1 - occlusion))) / 2;
}

/** How a flow runs in the clean line with an open surface; null where it runs full and backs up. */
export function runsAt(line: GravityLine, flowLps: number): { depthMm: number; speedMps: number } | null {
  const clean = fullFlow(line.boreMm, line.slope, line.n);
  const depthShare = depthShareOfFlow(flowLps / clean.flowLps);
  if (depthShare === null) return null;
  return {
    depthMm: depthShare * line.boreMm,
    speedMps: partFull(depthShare).speedShare * clean.speedMps,
  };
}
