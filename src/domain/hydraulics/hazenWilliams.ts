import { inUnit } from '../units/quantity.js';

/**
 * Friction of water in a full pipe after Hazen and Williams, in the form of record
 * h (ft per 100 ft) = .2083 (100/C)^1.852 Q^1.852 / d^4.8655, gpm and inches. Other roundings differ by about 1 %.
 *
 * @param c Hazen-Williams coefficient, 150 for smooth plastic.
 * @returns Head lost per length, m/m.
 * @throws {RangeError} When bore or coefficient is not above zero, or the flow is negative.
 */
export function frictionPerM(flowLps: number, boreMm: number, c: number): number {
  if (!(boreMm > 0 && c > 0 && flowLps >= 0)) {
    throw new RangeError(
      `bore and coefficient above zero, flow zero or more: ${boreMm} mm, ${c}, ${flowLps}`,
    );
  }
  const flowGpm = inUnit(flowLps, 'flow', 'gpm');
  const boreIn = inUnit(boreMm, 'bore', 'in');
  return ((0.2083 * ((100 / c) * flowGpm) ** 1.852) / boreIn ** 4.8655) * 0.01;
}
