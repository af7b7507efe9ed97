import { shortNumber } from '../units/quantity.js';
/** One point of a pump's curve: the head it gives at a flow. */
export interface PumpPoint {
  flowLps: number;
  headM: number;
}

/** Head against flow, falling from the shut-off head at no flow to nothing at `runOutLps`. */
export interface PumpCurve {
  shutOffM: number;
  runOutLps: number;
  headM(flowLps: number): number;
}

/**
 * A pump's curve from the points known of it.
 *
 * One point is taken as the duty point of a pump with 4/3 of that head at no flow and twice that flow at no head;
 * three points with one at no flow give head = shut-off − a·flow^c; two, or more than three, are joined by
 * straight lines, the last one carried on to no head. These are the conventions of the EPANET network solver
 * (Rossman, EPANET 2 Users Manual, US EPA, 2000, section 3.1, pump curves).
 *
 * @throws {RangeError} Without a point, for a negative flow or head, and where head does not fall with flow.
 */
export function pumpCurve(points: readonly PumpPoint[]): PumpCurve {
  const sorted = [...points].sort((a, b) => a.flowLps - b.flowLps);
  check(sorted);
  const [first, second, third] = sorted;
  if (first === undefined) throw new RangeError('a pump curve needs a point');
  if (second === undefined) return powerCurve((4 / 3) * first.headM, first.headM / 3 / first.flowLps ** 2, 2);
  if (third !== undefined && sorted.length === 3 && first.flowLps === 0) {
    const exponent =
      Math.log((first.headM - third.headM) / (first.headM - second.headM)) /
      Math.log(third.flowLps / second.flowLps);
    return powerCurve(first.headM, (first.headM - second.headM) / second.flowLps ** exponent, exponent);
  }
  return joinedCurve(sorted);
}

/** head = shutOffM − coefficient·flow^exponent, m and L/s. */
export function powerCurve(shutOffM: number, coefficient: number, exponent: number): PumpCurve {
  if (!(shutOffM > 0 && coefficient > 0 && exponent > 0)) {
    throw new RangeError('a pump curve falls from a head above zero');
  }
  return {
    shutOffM,
    runOutLps: (shutOffM / coefficient) ** (1 / exponent),
    headM: (flowLps) => shutOffM - coefficient * flowLps ** exponent,
  };
}

/** No pump of a house moves more; a curve that runs on past it does not fall as it should. */
const MOST_RUN_OUT_LPS = 1000;

/**
 * What is wrong with points taken as a pump's curve, for a door to say; null when a pump could have it.
 * Head falls with flow and reaches nothing within reason.
 */
export function pumpCurveFault(points: readonly PumpPoint[]): string | null {
  try {
    const { runOutLps, shutOffM } = pumpCurve(points);
    if (runOutLps <= MOST_RUN_OUT_LPS && Number.isFinite(shutOffM)) return null;
    return `the head hardly falls: it would move ${runOutLps.toPrecision(3)} L/s against nothing`;
  } catch (error) {
    if (error instanceof RangeError) return error.message;
    throw error;
  }
}

function check(sorted: readonly PumpPoint[]): void {
  const only = sorted.length === 1 ? sorted[0] : undefined;
  if (only && !(only.flowLps > 0 && only.headM > 0)) {
    throw new RangeError('a single point of a pump curve is its duty point: flow and head above zero');
  }
  for (const [index, point] of sorted.entries()) {
    if (!(point.flowLps >= 0 && point.headM >= 0)) {
      throw new RangeError(`flow and head are zero or more: ${pointText(point)}`);
    }
    const before = sorted[index - 1];
    if (before && !(point.flowLps > before.flowLps && point.headM < before.headM)) {
      throw new RangeError(`head must fall as flow rises: ${pointText(before)}; ${pointText(point)}`);
    }
  }
}

const pointText = ({ flowLps, headM }: PumpPoint): string =>
  `${shortNumber(headM)} m at ${shortNumber(flowLps)} L/s`;

function joinedCurve(sorted: readonly PumpPoint[]): PumpCurve {
  const headM = (flowLps: number): number => {
    const after = sorted.findIndex((point) => point.flowLps > flowLps);
    const right = after === -1 ? sorted.length - 1 : Math.max(1, after);
    const [a, b] = [sorted[right - 1], sorted[right]];
    if (a === undefined || b === undefined) throw new RangeError('a joined curve has two points');
    return a.headM + ((b.headM - a.headM) / (b.flowLps - a.flowLps)) * (flowLps - a.flowLps);
  };
  const [a, b] = sorted.slice(-2);
  if (a === undefined || b === undefined) throw new RangeError('a joined curve has two points');
  const fallPerLps = (a.headM - b.headM) / (b.flowLps - a.flowLps);
  return { shutOffM: headM(0), runOutLps: b.flowLps + b.headM / fallPerLps, headM };
}
