import { PIPES, type Pipe, type PipeChanges, type PipeProduct, pipeOf } from '../hydraulics/pipes.js';
import type { LineKind } from '../words.js';
import type { DepthOf } from './tracedRun.js';
import { TRENCH } from './trenchRules.js';

/** How a line of a kind is laid anew. Metres; sources beside each. */
interface Laying {
  product: PipeProduct;
  leastNominal: string;
  /** Granular fill under, above and on each side of the pipe. */
  underM: number;
  aboveM: number;
  besideM: number;
  source: string;
  /** Takes water in: how its holes lie, its stone and its wrap. Absent: solid pipe. */
  drains?: { holes: string; stone: string; wrap: string; source: string };
}

const PLASTIC_PIPE =
  'ASTM D2321: 4 in under, 6 in above the crown, width at least outside diameter + 16 in (from memory, unverified)';
const UNDER_M = 4 * 0.0254;
const ABOVE_M = 6 * 0.0254;
const BESIDE_M = 8 * 0.0254;

/** A pipe that takes water in. */
const DRAINS = {
  holes: 'perforated, holes down',
  stone: 'washed, larger than the holes, no fines',
  wrap: 'fabric over the stone, none round the pipe: a sock clogs with ochre',
  source:
    'IRC R405.1: washed stone about the drain, filter fabric round it or over its stone (from memory, unverified); Quebec regulator on ochre: pipe wrapped in a membrane clogs faster; holes down: common practice, no source',
};

/** Product and least size: common practice, no source; the stone of a footing drain where ochre is known: its source. */
const LAYING: Record<LineKind, Laying> = {
  sump_discharge: {
    product: 'schedule_40',
    leastNominal: '1-1/2',
    underM: UNDER_M,
    aboveM: ABOVE_M,
    besideM: BESIDE_M,
    source: PLASTIC_PIPE,
  },
  footing_drain: {
    product: 'sdr_35',
    leastNominal: '4',
    underM: UNDER_M,
    aboveM: 0.3,
    besideM: 0.6,
    source: 'Quebec trade guidance on ochre: smooth rigid pipe, stone 300 mm above and 600 mm beside',
    drains: DRAINS,
  },
  floor_drain: {
    product: 'schedule_40',
    leastNominal: '3',
    underM: UNDER_M,
    aboveM: ABOVE_M,
    besideM: BESIDE_M,
    source: PLASTIC_PIPE,
  },
  yard_drain: {
    product: 'sdr_35',
    leastNominal: '4',
    underM: UNDER_M,
    aboveM: ABOVE_M,
    besideM: BESIDE_M,
    source: PLASTIC_PIPE,
  },
};

/** Outside diameters by nominal size, mm. ASTM D1785 and D3034. */
const OUTSIDE_MM: Record<'schedule_40' | 'sdr_35', Record<string, number>> = {
  schedule_40: { '1-1/4': 42.16, '1-1/2': 48.26, '2': 60.33, '3': 88.9, '4': 114.3, '6': 168.28 },
  sdr_35: { '4': 107.06, '6': 159.39 },
};

/** Least width for somebody to stand beside the pipe, by depth: EN 1610, table 2 (from memory, unverified). */
const LEAST_WIDTH: readonly { fromM: number; widthM: number }[] = [
  { fromM: 4, widthM: 1 },
  { fromM: 1.75, widthM: 0.9 },
  { fromM: 1, widthM: 0.8 },
];
const LEAST_WIDTH_SOURCE = 'EN 1610, table 2: width by depth (from memory, unverified)';

export interface NewPipe extends Pipe {
  outsideM: number;
  /** Takes water in by its holes; null: solid. */
  drains: { holes: string; stone: string; wrap: string; source: string } | null;
  /** No size of the product is as wide as the old line, or nobody knows how wide that is. */
  assumed: boolean;
}

/**
 * The pipe that goes in: the least size of the kind's product that is not narrower than the old bore and the kind's
 * least, by the owner's pipe table. A footing drain is perforated whatever was there; another line where the old one was.
 */
export function newPipe(
  kind: LineKind,
  oldBoreMm: number | null,
  pipes: PipeChanges,
  perforated: boolean | null = null,
): NewPipe {
  const { product, leastNominal, drains } = LAYING[kind];
  const sizes = Object.keys(PIPES[product].boreMm)
    .map((nominal) => pipeOf(product, nominal, pipes))
    .sort((a, b) => a.boreMm - b.boreMm);
  const leastMm = pipeOf(product, leastNominal, pipes).boreMm;
  const neededMm = Math.max(leastMm, NARROWER * (oldBoreMm ?? 0));
  const fitting = sizes.find(({ boreMm }) => boreMm >= neededMm);
  const taken = fitting ?? (sizes.at(-1) as Pipe);
  const outside = OUTSIDE_MM[product as keyof typeof OUTSIDE_MM][taken.nominal] ?? taken.boreMm;
  return {
    ...taken,
    outsideM: outside / 1000,
    drains: drains ?? (perforated && kind !== 'sump_discharge' ? DRAINS : null),
    assumed: oldBoreMm === null || fitting === undefined,
  };
}

/** Pipes of one nominal size differ in bore by so much: the old one in its size is not narrower (common practice, no source). */
const NARROWER = 0.95;

export interface Trench {
  /** At the bottom. */
  widthM: number;
  /** At the top, sloped 1.5 to 1 from where a protective system is needed; shored or shielded it stays as wide as below. */
  topWidthM: number;
  trenchM3: number;
  beddingUnderM: number;
  stoneAboveM: number;
  stoneM3: number;
  sources: string[];
}

/** From the surface to the bottom of the trench: a traced pipe lies on bedding, and what was traced may be its crown. */
export function trenchDepthM(kind: LineKind, depthM: number, depthOf: DepthOf, outsideM: number): number {
  const { underM } = LAYING[kind];
  const BELOW: Record<DepthOf, number> = {
    crown: outsideM + underM,
    centre: outsideM / 2 + underM,
    invert: underM,
    trench_bottom: 0,
  };
  return depthM + BELOW[depthOf];
}

/**
 * The trench of a run, and the stone in it.
 *
 * @param depthM Of the trench's bottom.
 */
export function trenchOf(kind: LineKind, runM: number, depthM: number, outsideM: number): Trench {
  const { underM, aboveM, besideM, source } = LAYING[kind];
  const byDepth = LEAST_WIDTH.find(({ fromM }) => depthM >= fromM);
  const forStone = outsideM + 2 * besideM;
  const widthM = Math.max(forStone, byDepth?.widthM ?? 0);
  const slope = depthM >= TRENCH.protectFromM ? TRENCH.defaultSlope : 0;
  const stoneHigh = Math.min(depthM, underM + outsideM + aboveM);
  return {
    widthM,
    topWidthM: widthM + 2 * slope * depthM,
    trenchM3: runM * depthM * (widthM + slope * depthM),
    beddingUnderM: underM,
    stoneAboveM: aboveM,
    stoneM3: runM * (widthM * stoneHigh - (Math.PI * outsideM ** 2) / 4),
    sources: [
      source,
      ...(byDepth !== undefined && byDepth.widthM > forStone ? [LEAST_WIDTH_SOURCE] : []),
      ...(slope > 0 ? ['29 CFR 1926.652(b)(1)(i): sloped 1.5 to 1 unless shored or shielded'] : []),
    ],
  };
}
