import { darcyLossM, frictionFactor, reynolds } from './darcyWeisbach.js';
import { type FittingCount, fittingsK, minorLossM } from './fittings.js';
import { frictionPerM } from './hazenWilliams.js';
import { boreAreaM2 } from './manning.js';
import { type DepositShape, openSection } from './openSection.js';

export type Friction = { law: 'hazen_williams'; c: number } | { law: 'darcy_weisbach'; roughnessMm: number };

/** A line a pump pushes water through, running full. */
export interface DischargeLine {
  boreMm: number;
  lengthM: number;
  /** From the water in the pit to the highest point or the outlet, whichever is higher. */
  liftM: number;
  friction: Friction;
  fittings: FittingCount;
}

/** A discharge as it is fouled: share of the bore's area blocked, and how the deposit lies. */
export interface Fouling {
  occlusion: number;
  shape: DepositShape;
}

export const CLEAN: Fouling = { occlusion: 0, shape: 'even_coat' };

/** Speed of a flow in what the deposit leaves open. */
export const speedMps = (boreMm: number, flowLps: number, { occlusion, shape }: Fouling = CLEAN): number =>
  flowLps / 1000 / openSection(boreMm, occlusion, shape).areaM2;

/** Flow at a speed in a clean bore, Q = v A. */
export const flowAtSpeedLps = (boreMm: number, speed: number): number => boreAreaM2(boreMm) * speed * 1000;

/** Head a discharge takes at a flow: lift, friction and fittings, metres. */
export function headNeededM(line: DischargeLine, flowLps: number, fouling: Fouling = CLEAN): number {
  if (flowLps === 0) return line.liftM;
  const open = openSection(line.boreMm, fouling.occlusion, fouling.shape);
  const speed = flowLps / 1000 / open.areaM2;
  return (
    line.liftM +
    frictionLossM(line, open.hydraulicDiameterMm, speed) +
    minorLossM(fittingsK(line.fittings), speed)
  );
}

/** Friction of a round pipe of the open section's hydraulic diameter at the same speed. */
function frictionLossM({ friction, lengthM }: DischargeLine, diameterMm: number, speed: number): number {
  if (friction.law === 'hazen_williams') {
    return frictionPerM(flowAtSpeedLps(diameterMm, speed), diameterMm, friction.c) * lengthM;
  }
  const factor = frictionFactor(reynolds(speed, diameterMm), friction.roughnessMm / diameterMm);
  return darcyLossM(factor, lengthM, diameterMm, speed);
}
