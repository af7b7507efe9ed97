import type { Material } from '../words.js';

export const PIPE_PRODUCTS = ['schedule_40', 'sdr_35', 'corrugated', 'clay_tile', 'concrete_tile'] as const;
export type PipeProduct = (typeof PIPE_PRODUCTS)[number];

/** Nominal size in inches as the trade writes it, e.g. `1-1/2`. */
export type NominalIn = string;

/** Bore, roughness and source of one product; the owner may put other numbers in its place. */
export interface PipeData {
  material: Material;
  /** Average inside diameter by nominal size. */
  boreMm: Record<NominalIn, number>;
  /** Manning. */
  n: number;
  /** Hazen-Williams; null for pipe that never runs under pressure. */
  c: number | null;
  source: string;
}

export type PipeTable = Record<PipeProduct, PipeData>;

const inches = (sizes: Record<NominalIn, number>): Record<NominalIn, number> =>
  Object.fromEntries(Object.entries(sizes).map(([nominal, boreIn]) => [nominal, boreIn * 25.4]));

/** Outside diameter less twice the least wall: the bore most friction tables are built on, some 1 % too wide. */
export const boreOfWallMm = (outsideMm: number, leastWallMm: number): number => outsideMm - 2 * leastWallMm;

export const PIPES: PipeTable = {
  schedule_40: {
    material: 'pvc',
    boreMm: inches({ '1-1/4': 1.364, '1-1/2': 1.592, '2': 2.049, '3': 3.042, '4': 3.998, '6': 6.031 }),
    n: 0.01,
    c: 150,
    source:
      'ASTM D1785, average inside diameter; n: Winchester IN code, table 4; C: general engineering tables',
  },
  sdr_35: {
    material: 'pvc',
    // Outside 4.215 and 6.275 in, least wall .120 and .180 in; the 6 in wall is recalled, not read.
    boreMm: { '4': boreOfWallMm(4.215 * 25.4, 0.12 * 25.4), '6': boreOfWallMm(6.275 * 25.4, 0.18 * 25.4) },
    n: 0.01,
    c: 150,
    source: 'ASTM D3034, outside diameter less twice the least wall; n: Winchester IN code, table 4',
  },
  corrugated: {
    material: 'corrugated_hdpe',
    boreMm: inches({ '3': 3, '4': 4, '5': 5, '6': 6, '8': 8, '10': 10 }),
    // Published values differ: .018 to .025 in general tables, .015 in farm design for 3 to 8 in.
    n: 0.018,
    c: null,
    source: 'AASHTO M252, nominal size is the inside diameter; n: low end of general tables (.018 to .025)',
  },
  clay_tile: {
    material: 'clay',
    boreMm: inches({ '4': 4, '6': 6 }),
    n: 0.014,
    c: 110,
    source: 'ASTM C4, nominal size is the inside diameter (recalled); n and C: general engineering tables',
  },
  concrete_tile: {
    material: 'concrete',
    boreMm: inches({ '4': 4, '6': 6 }),
    n: 0.013,
    c: 100,
    source: 'ASTM C412, nominal size is the inside diameter (recalled); n: Winchester IN code, table 4',
  },
};

/** Roughness where only the material is known. Unknown and other: common practice, no source. */
export const ROUGHNESS_N: Record<Material, number> = {
  pvc: PIPES.schedule_40.n,
  corrugated_hdpe: PIPES.corrugated.n,
  clay: PIPES.clay_tile.n,
  concrete: PIPES.concrete_tile.n,
  cast_iron: 0.013,
  other: 0.015,
  unknown: 0.015,
};

/** One pipe as it lies in the ground. */
export interface Pipe {
  product: PipeProduct;
  nominal: NominalIn;
  material: Material;
  boreMm: number;
  n: number;
  c: number | null;
  source: string;
}

/** What an owner measured or decided instead: any field of a product, bores size by size. */
export type PipeChanges = { [Product in PipeProduct]?: Partial<PipeData> };

/**
 * Bore and roughness of a pipe by its nominal size.
 *
 * @throws {RangeError} For a size the product is not made in, naming those it is.
 */
export function pipeOf(product: PipeProduct, nominal: NominalIn, changes: PipeChanges = {}): Pipe {
  const change = changes[product];
  const base = PIPES[product];
  const boreByNominal = { ...base.boreMm, ...change?.boreMm };
  const boreMm = Object.hasOwn(boreByNominal, nominal) ? boreByNominal[nominal] : undefined;
  if (boreMm === undefined) {
    throw new RangeError(
      `${product} is not known in ${nominal} in; use ${Object.keys(boreByNominal).join(', ')}`,
    );
  }
  const { material, n, c, source } = { ...base, ...change };
  return { product, nominal, material, boreMm, n, c, source };
}

/** Wall of a pipe as flow sees it. */
export interface Roughness {
  /** Manning. */
  n: number;
  /** Hazen-Williams; null where the product never runs under pressure, or nobody knows it. */
  c: number | null;
}

const PRODUCT_OF: Partial<Record<Material, PipeProduct>> = {
  pvc: 'schedule_40',
  corrugated_hdpe: 'corrugated',
  clay: 'clay_tile',
  concrete: 'concrete_tile',
};

export const isPipeProduct = (name: unknown): name is PipeProduct =>
  PIPE_PRODUCTS.some((product) => product === name);

/** Roughness of a known product, else the usual one of the material; the owner's numbers first. */
export function roughnessOf(product: unknown, material: Material, changes: PipeChanges = {}): Roughness {
  if (isPipeProduct(product)) {
    const { n, c } = { ...PIPES[product], ...changes[product] };
    return { n, c };
  }
  const usual = PRODUCT_OF[material];
  if (usual === undefined) return { n: ROUGHNESS_N[material], c: null };
  const { n, c } = { ...PIPES[usual], ...changes[usual] };
  return { n, c };
}

/** Smooth plastic. */
const SMOOTH_C = 150;

/**
 * The Hazen-Williams coefficient to reckon with under pressure. Where none is known it is assumed: of smooth plastic,
 * less by as much as the wall's Manning n is rougher, so 83 for corrugated pipe (common practice, no source).
 */
export const pressureC = ({ n, c }: Roughness): { c: number; assumed: boolean } =>
  c === null ? { c: Math.round((SMOOTH_C * ROUGHNESS_N.pvc) / n), assumed: true } : { c, assumed: false };

/** Whether the bore of a size is its nominal size, which no maker promises to a hair; not where the owner measured. */
export const boreIsNominal = (product: PipeProduct, nominal: NominalIn, changes: PipeChanges): boolean =>
  NOMINAL_BORES.includes(product) && changes[product]?.boreMm?.[nominal] === undefined;
const NOMINAL_BORES: readonly PipeProduct[] = ['corrugated', 'clay_tile', 'concrete_tile'];

/** Litres a length of bore holds. */
export const boreVolumeL = (boreMm: number, lengthM: number): number =>
  ((Math.PI * (boreMm / 1000) ** 2) / 4) * lengthM * 1000;
