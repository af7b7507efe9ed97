import type { Fouling } from '../domain/hydraulics/dischargeLine.js';
import { type GravityLine, gravityLeft, gravityState } from '../domain/hydraulics/gravityLine.js';
import { fullFlow } from '../domain/hydraulics/manning.js';
import {
  depthShareOfBlocked,
  evenCoat,
  gravityCapacityLeft,
  pressureCapacityLeft,
} from '../domain/hydraulics/segment.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { CapacityChartData, CapacityCurve, CapacityMark } from './capacityChart.js';
import { numberText } from './printed.js';

const STEPS = 50;
const SHARES = Array.from({ length: STEPS + 1 }, (_, i) => i / STEPS);

const DEPOSIT_NAMES = { flat_deposit: 'flat deposit', even_coat: 'even coat' } as const;

/** Curves of what a gravity line carries as deposit grows, with where this line stands. */
export function gravityCapacityData(
  line: GravityLine,
  fouling: Fouling,
  neededLps: number | null,
  lineName: string,
  units: UnitSystem,
): CapacityChartData {
  const { boreMm, slope, n } = line;
  const state = gravityState(line, fouling.occlusion, fouling.shape);
  const needed = neededLps === null ? null : Math.min(1, neededLps / fullFlow(boreMm, slope, n).flowLps);
  return {
    lineName,
    boreMm,
    units,
    basis: `Manning, n ${numberText(n, 3)}, fall ${numberText(100 * slope, 2)} %, running full`,
    curves: [
      flatCurve('flat deposit', boreMm, gravityCapacityLeft),
      coatCurve('even coat (thickness)', boreMm, (gone) => gravityLeft(1 - (1 - gone) ** 2, 'even_coat')),
    ],
    marks:
      fouling.occlusion > 0 ? [mark(DEPOSIT_NAMES[fouling.shape], state.depositMm, state.capacityLeft)] : [],
    needed,
  };
}

/** A line on the books: a pump pushes through it, or it runs by its own fall. */
export interface BookedLine {
  name: string;
  boreMm: number;
  isPumped: boolean;
  /** Manning and Hazen-Williams of the clean wall. */
  n: number;
  c: number;
  /** Nobody knows the C of this wall. */
  cAssumed: boolean;
  /** Fall over length; null: unknown. */
  slope: number | null;
}

/**
 * The same for a line on the books with what is believed of it: shares of the clean capacity, which need no fall.
 *
 * @param marks Occlusions to show: an even coat in a pumped line, a flat deposit in another.
 */
export function bookedCapacityData(
  line: BookedLine,
  marks: readonly { name: string; occlusion: number }[],
  units: UnitSystem,
): CapacityChartData {
  const { boreMm, isPumped, n, c, cAssumed, slope } = line;
  const flat = isPumped ? pressureCapacityLeft : gravityCapacityLeft;
  const coat = (gone: number) => {
    const { gravityLeft: gravity, pressureLeft } = evenCoat(gone / 2);
    return isPumped ? pressureLeft : gravity;
  };
  const fall = slope === null ? 'fall unknown' : `fall ${numberText(100 * slope, 2)} %`;
  return {
    lineName: line.name,
    boreMm,
    units,
    basis: isPumped
      ? `Hazen-Williams, C ${numberText(c, 0)}${cAssumed ? ' (assumed)' : ''}, at the same head`
      : `Manning, n ${numberText(n, 3)}, ${fall}, running full`,
    curves: [flatCurve('flat deposit', boreMm, flat), coatCurve('even coat (thickness)', boreMm, coat)],
    marks: marks
      .filter(({ occlusion }) => occlusion > 0 && occlusion < 1)
      .map(({ name, occlusion }) => {
        // In a pumped line gel coats the bore all round; by gravity it lies on the bottom.
        const widthGone = 1 - Math.sqrt(1 - occlusion);
        if (isPumped) return mark(name, (widthGone * boreMm) / 2, coat(widthGone));
        const depthShare = depthShareOfBlocked(occlusion);
        return mark(name, depthShare * boreMm, flat(depthShare));
      }),
    needed: null,
  };
}

const mark = (name: string, depthMm: number, capacityLeft: number): CapacityMark => ({
  name,
  depthMm,
  capacityLeft,
});

function flatCurve(name: string, boreMm: number, left: (depthShare: number) => number): CapacityCurve {
  return {
    name,
    points: SHARES.map((depthShare) => ({
      depthMm: depthShare * boreMm,
      capacityLeft: depthShare === 1 ? 0 : left(depthShare),
    })),
  };
}

function coatCurve(name: string, boreMm: number, left: (widthGone: number) => number): CapacityCurve {
  return {
    name,
    points: SHARES.map((gone) => ({
      depthMm: (gone * boreMm) / 2,
      capacityLeft: gone === 1 ? 0 : left(gone),
    })),
  };
}
