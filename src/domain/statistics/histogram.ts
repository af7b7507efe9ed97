export interface Bin {
  from: number;
  /** Excluded, but for the last bin. */
  to: number;
  count: number;
}

/**
 * Values in bins of one round width from 0, so many that about `wanted` hold all but the highest hundredth; those
 * beyond stand in the last bin.
 *
 * @throws {RangeError} When a value is below 0 or not a number.
 */
export function histogram(values: readonly number[], wanted = 20): Bin[] {
  if (values.length === 0) return [];
  const sorted = [...values].sort((a, b) => a - b);
  if (!((sorted[0] ?? 0) >= 0)) throw new RangeError('a histogram takes values from 0');
  const top = sorted[Math.ceil(0.99 * sorted.length) - 1] ?? 0;
  const width = roundWidth(Math.max(top, 1e-6) / wanted);
  const bins = Math.max(1, Math.floor(top / width) + 1);
  return binned(sorted, width, bins);
}

/** Values in so many bins of this width from 0; those beyond stand in the last one. */
export function binned(values: readonly number[], width: number, bins: number): Bin[] {
  const out = Array.from({ length: bins }, (_, i) => ({
    from: plain(i * width),
    to: plain((i + 1) * width),
    count: 0,
  }));
  for (const value of values) {
    // A value on a bin's edge belongs above it, whatever the last digit of the division says.
    const bin = out[Math.min(bins - 1, Math.floor(value / width + 1e-9))];
    if (bin) bin.count++;
  }
  return out;
}

/** Without the last digits of a sum in binary. */
const plain = (edge: number): number => Number(edge.toPrecision(12));

/** 1, 2, 2.5 or 5 times a power of ten, not below `least`. */
function roundWidth(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  const step = [1, 2, 2.5, 5, 10].find((each) => each * power >= least * (1 - 1e-9)) ?? 10;
  return step * power;
}

/** Value below which the share `p` of the values lies, straight between neighbours; null of none. */
export function quantile(values: readonly number[], p: number): number | null {
  if (values.length === 0) return null;
  const sorted = [...values].sort((a, b) => a - b);
  const place = p * (sorted.length - 1);
  const low = sorted[Math.floor(place)] ?? 0;
  const high = sorted[Math.ceil(place)] ?? low;
  return low + (place - Math.floor(place)) * (high - low);
}

export function quantilesOf(values: readonly number[]): { q10: number; q50: number; q90: number } | null {
  if (values.length === 0) return null;
  const at = (p: number): number => quantile(values, p) ?? 0;
  return { q10: at(0.1), q50: at(0.5), q90: at(0.9) };
}
