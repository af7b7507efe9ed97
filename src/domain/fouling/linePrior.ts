import type { LineEvidence } from './evidence.js';

/** Linear predictor of a line's log rate, its columns fixed by the base it was fitted on. */
export interface PriorModel {
  columns: string[];
  beta: number[];
  /** Posterior covariance of beta, row-major. */
  covariance: number[];
  /** Variance between lines of a site, and between sites. */
  lineVariance: number;
  siteVariance: number;
  /** Mean log(iron / 1.5 mg/L) of each site's tested lines. */
  ironOfSite: Record<string, number>;
  /** Each site's summed weights and weighted residuals, so that a line can leave its own out. */
  sites: Record<string, { weight: number; residual: number }>;
  /** Each line's share in them. */
  lines: Record<string, { weight: number; residual: number }>;
}

/** Iron and bore are measured from these, so that the intercept is a usual line's. */
const USUAL_IRON_MG_L = 1.5;
const USUAL_BORE_MM = 100;

export function ironBySite(lines: readonly LineEvidence[]): Record<string, number> {
  const sums = new Map<string, { sum: number; n: number }>();
  for (const { siteId, ironMgL } of lines) {
    if (ironMgL === null) continue;
    const held = sums.get(siteId) ?? { sum: 0, n: 0 };
    held.sum += logIron(ironMgL);
    held.n += 1;
    sums.set(siteId, held);
  }
  return Object.fromEntries([...sums].map(([siteId, { sum, n }]) => [siteId, sum / n]));
}

const logIron = (ironMgL: number): number => Math.log(Math.max(0.02, ironMgL) / USUAL_IRON_MG_L);

/** Columns of a base: what occurs in it. Areas of a few lines share the column of none. */
export function priorColumns(lines: readonly LineEvidence[]): string[] {
  const areas = new Map<string, number>();
  for (const { area } of lines) areas.set(area, (areas.get(area) ?? 0) + 1);
  const common = [...areas]
    .filter(([, n]) => n >= 10)
    .sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1))
    .slice(0, 40);
  return [
    'one',
    'iron',
    'iron_unknown',
    'bore',
    ...[...new Set(lines.map(({ kind }) => `kind:${kind}`))].sort(),
    ...[...new Set(lines.map(({ material }) => `material:${material}`))].sort(),
    ...common.map(([area]) => `area:${area}`).sort(),
  ];
}

/** Prior precision of a column's coefficient: weak on the intercept, the rest drawn toward none. */
export function columnPrecision(column: string): { mean: number; precision: number } {
  if (column === 'one') return { mean: Math.log(0.0009), precision: 1 / 4 };
  if (column.startsWith('area:')) return { mean: 0, precision: 1 / 0.09 };
  if (column === 'iron') return { mean: 0.4, precision: 1 / 0.25 };
  return { mean: 0, precision: 1 / 0.25 };
}

/** The row of one line. */
export function priorRow(
  line: LineEvidence,
  columns: readonly string[],
  ironOfSite: Readonly<Record<string, number>>,
): Float64Array {
  const iron = line.ironMgL === null ? ironOfSite[line.siteId] : logIron(line.ironMgL);
  const row = new Float64Array(columns.length);
  columns.forEach((column, j) => {
    if (column === 'one') row[j] = 1;
    else if (column === 'iron') row[j] = iron ?? 0;
    else if (column === 'iron_unknown') row[j] = iron === undefined ? 1 : 0;
    else if (column === 'bore') row[j] = line.boreMm === null ? 0 : Math.log(line.boreMm / USUAL_BORE_MM);
    else if (column.startsWith('kind:')) row[j] = column.slice(5) === line.kind ? 1 : 0;
    else if (column.startsWith('material:')) row[j] = column.slice(9) === line.material ? 1 : 0;
    else row[j] = column.slice(5) === line.area ? 1 : 0;
  });
  return row;
}

/** Prior of a line's log rate, the line's own readings left out. */
export function priorOf(model: PriorModel, line: LineEvidence): { mean: number; variance: number } {
  const row = priorRow(line, model.columns, model.ironOfSite);
  const p = row.length;
  let mean = 0;
  let spread = 0;
  for (let j = 0; j < p; j++) {
    mean += row[j]! * model.beta[j]!;
    for (let k = 0; k < p; k++) spread += row[j]! * row[k]! * model.covariance[j * p + k]!;
  }
  const site = model.sites[line.siteId];
  const own = model.lines[line.lineId];
  const weight = Math.max(0, (site?.weight ?? 0) - (own?.weight ?? 0));
  const residual = (site?.residual ?? 0) - (own?.residual ?? 0);
  const siteVariance = 1 / (1 / model.siteVariance + weight);
  return { mean: mean + siteVariance * residual, variance: model.lineVariance + siteVariance + spread };
}
