import { type Bin, binned, histogram, quantilesOf } from '../../domain/statistics/histogram.js';
import type { House } from '../house.js';
import type { LinesAsked } from './lineFilter.js';

/** How a quantity is spread over the lines asked for. */
export interface Spread {
  lines: number;
  quantiles: { q10: number; q50: number; q90: number } | null;
  items: Bin[];
}

/** How fast the lines foul, by what is believed of each: shares of the bore a month. */
export async function foulingRates({ stores }: House, asked: LinesAsked): Promise<Spread> {
  const rates = (await stores.reports.trends(asked)).map((row) => Number(row['rate_per_month']));
  return { lines: rates.length, quantiles: quantilesOf(rates), items: histogram(rates) };
}

const OCCLUSION_BIN = 0.05;

/** How full the lines are by what is believed of each, and how many are past their own limits. */
export async function occlusions(
  { stores }: House,
  asked: LinesAsked,
): Promise<Spread & { pastAction: number; pastPlug: number }> {
  const rows = await stores.reports.trends(asked);
  const shares = rows.map((row) => Number(row['occlusion']));
  const past = (limit: string) => rows.filter((row) => Number(row['occlusion']) >= Number(row[limit])).length;
  return {
    lines: rows.length,
    quantiles: quantilesOf(shares),
    pastAction: past('action_limit'),
    pastPlug: past('plug_limit'),
    items: rows.length === 0 ? [] : binned(shares, OCCLUSION_BIN, 1 / OCCLUSION_BIN),
  };
}
