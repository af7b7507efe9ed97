import { inUnit, toStored } from '../units/quantity.js';

/** Jets of one bore, all at one angle. */
export interface Jets {
  count: number;
  boreMm: number;
}

export interface Nozzle {
  /** Jets that point back; they pull the hose and carry the deposit out. */
  rear: Jets & { angleFromAxisDeg: number };
  /** Jets that point ahead; they push back. */
  front: Jets | null;
  /** Discharge coefficient. */
  coefficient: number;
  diameterMm: number;
  /** Nozzle and rigid hose end together. */
  rigidLengthMm: number;
}

/** Discharge coefficient of drilled jets. Common practice, no source. */
export const DRILLED_JETS = 0.95;

/** Q = 29.84 c d² √P, gpm, inches, psi: the form of NFPA 291, for water of about 15 °C. */
const ORIFICE_US = 29.84;
/** Reaction of an ideal jet, R = .0526 Q √P, lbf, gpm, psi (R = 2PA in flow form). */
const IDEAL_REACTION_US = 0.0526;
/** Ideal jet speed, 12.19 √P, ft/s and psi. */
const JET_SPEED_US = 12.19;
/** gpm·psi in one horsepower. */
const POWER_US = 1714;

/** Flow of one round orifice. @throws {RangeError} For a negative pressure. */
export function orificeFlowLps(boreMm: number, coefficient: number, pressureKpa: number): number {
  if (!(pressureKpa >= 0)) throw new RangeError(`a pressure is zero or more: ${pressureKpa} kPa`);
  const boreIn = inUnit(boreMm, 'bore', 'in');
  const flowGpm = ORIFICE_US * coefficient * boreIn ** 2 * Math.sqrt(inUnit(pressureKpa, 'pressure', 'psi'));
  return toStored({ value: flowGpm, unit: 'gpm' }, 'flow');
}

const jetsFlowLps = (jets: Jets, coefficient: number, pressureKpa: number): number =>
  jets.count * orificeFlowLps(jets.boreMm, coefficient, pressureKpa);

/** Flow of all jets together; orifices add. */
export function nozzleFlowLps({ rear, front, coefficient }: Nozzle, pressureKpa: number): number {
  const ahead = front === null ? 0 : jetsFlowLps(front, coefficient, pressureKpa);
  return jetsFlowLps(rear, coefficient, pressureKpa) + ahead;
}

/** Bore of one of so many like jets that together pass a flow at a pressure: the form above, solved for d. */
export function jetBoreMm(flowLps: number, count: number, coefficient: number, pressureKpa: number): number {
  const oneMmLps = orificeFlowLps(1, coefficient, pressureKpa);
  return Math.sqrt(flowLps / count / oneMmLps);
}

/** The pressure at which a nozzle passes a flow, kPa: flow goes with its root. */
export const nozzlePressureKpa = (nozzle: Nozzle, flowLps: number): number =>
  (flowLps / nozzleFlowLps(nozzle, 1)) ** 2;

/** Push of a jet along its axis, R = k Q √P. @param perGpmRootPsi k, lower than ideal for a worn nozzle. */
export function reactionN(flowLps: number, pressureKpa: number, perGpmRootPsi = IDEAL_REACTION_US): number {
  const flowGpm = inUnit(flowLps, 'flow', 'gpm');
  const pounds = perGpmRootPsi * flowGpm * Math.sqrt(inUnit(pressureKpa, 'pressure', 'psi'));
  return toStored({ value: pounds, unit: 'lbf' }, 'force');
}

/** The same of one orifice, R = 2PA (1.57 d² P in lbf, inches, psi). */
export const orificeReactionN = (boreMm: number, pressureKpa: number): number =>
  2 * pressureKpa * 1000 * ((Math.PI * (boreMm / 1000) ** 2) / 4);

/** Part of a reaction that pulls along the pipe. */
export const axialN = (reaction: number, angleFromAxisDeg: number): number =>
  reaction * Math.cos((angleFromAxisDeg * Math.PI) / 180);

/** What a nozzle pulls the hose with: rear jets less front jets. */
export function nozzlePullN({ rear, front, coefficient }: Nozzle, pressureKpa: number): number {
  const back = reactionN(jetsFlowLps(rear, coefficient, pressureKpa), pressureKpa);
  const ahead = front === null ? 0 : reactionN(jetsFlowLps(front, coefficient, pressureKpa), pressureKpa);
  return axialN(back, rear.angleFromAxisDeg) - ahead;
}

/** Speed of an ideal jet. */
export function jetSpeedMps(pressureKpa: number): number {
  const feetPerSecond = JET_SPEED_US * Math.sqrt(inUnit(pressureKpa, 'pressure', 'psi'));
  return toStored({ value: feetPerSecond, unit: 'ft/s' }, 'speed');
}

/** Power in the water, QP/1714 hp. */
export function hydraulicPowerW(flowLps: number, pressureKpa: number): number {
  const horses = (inUnit(flowLps, 'flow', 'gpm') * inUnit(pressureKpa, 'pressure', 'psi')) / POWER_US;
  return toStored({ value: horses, unit: 'hp' }, 'power');
}
