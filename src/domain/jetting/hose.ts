import { inUnit, toStored } from '../units/quantity.js';

export interface Hose {
  lengthM: number;
  /** C of FL = C (Q/100)² L/100, psi, gpm, ft. */
  lossCoefficient: number;
  /** Filled, where it drags: in the pipe. */
  weightNPerM: number;
  /** Drag over weight; about .5 on a wet bore (common practice, no source). */
  drag: number;
}

/** A bend on the way, from the entry. */
export interface Bend {
  atM: number;
  degrees: number;
}

/** Common practice, no source: a filled jetting hose of about 3/8 in weighs 3 N a metre and drags by half of it. */
export const USUAL_HOSE = { weightNPerM: 3, drag: 0.5, bore: '3/4' } as const;

/**
 * Loss coefficients of fire hose by bore in inches (published friction loss table, FL = C (Q/100)² L/100). For small
 * jetting hose take the maker's chart.
 */
export const HOSE_LOSS = { '3/4': 1100, '1': 150, '1-1/2': 24, '1-3/4': 15.5, '2-1/2': 2 } as const;

/** Pressure lost in a hose. */
export function hoseLossKpa(flowLps: number, lengthM: number, lossCoefficient: number): number {
  const hundredGpm = inUnit(flowLps, 'flow', 'gpm') / 100;
  const hundredFeet = inUnit(lengthM, 'length', 'ft') / 100;
  return toStored({ value: lossCoefficient * hundredGpm ** 2 * hundredFeet, unit: 'psi' }, 'pressure');
}

/**
 * How far a pull takes a hose into a line.
 *
 * The hose drags with its weight along every metre, and a bend multiplies the tension behind it by e^(drag·angle)
 * (belt over a fixed drum). Nobody pushes at the entry.
 *
 * @param bends In any order.
 * @returns Metres from the entry, at most the hose's length.
 */
export function hoseReachM(pullN: number, hose: Hose, bends: readonly Bend[] = []): number {
  const dragNPerM = hose.weightNPerM * hose.drag;
  let tensionN = 0;
  let atM = 0;
  for (const bend of [...bends].sort((a, b) => a.atM - b.atM)) {
    const beforeN = tensionN + dragNPerM * (bend.atM - atM);
    if (beforeN > pullN || bend.atM >= hose.lengthM) break;
    tensionN = beforeN * Math.exp((hose.drag * bend.degrees * Math.PI) / 180);
    atM = bend.atM;
  }
  // Where the last bend takes more than the pull, the nozzle stops at it.
  const beyondM = Math.max(0, pullN - tensionN) / dragNPerM;
  return Math.min(hose.lengthM, atM + beyondM);
}
