import type { House } from '../house.js';
import { inPeriod, type LinesAsked, type Period } from './lineFilter.js';

export interface CleanResult {
  crewId: string | null;
  crew: string | null;
  task: string | null;
  cleans: number;
  lines: number;
  measuredBefore: number;
  /** Means, shares of the bore. */
  before: number | null;
  measuredAfter: number;
  after: number | null;
  /** Cleans after which the line was read again. */
  regrown: number;
  /** Median; share of the bore a month. */
  regrowthPerMonth: number | null;
  flowProven: number;
  flowNotProven: number;
}

const numberOrNull = (value: unknown): number | null => (value === null ? null : Number(value));
const textOrNull = (value: unknown): string | null => (value === null ? null : String(value));

/** What cleans found, left behind, and how fast it came back: by crew and task, most cleans first. */
export async function cleanResults(
  { stores, zone }: House,
  asked: LinesAsked,
  period: Period,
): Promise<{ lines: number; cleans: number; items: CleanResult[] }> {
  const past = inPeriod(asked, period);
  const rows = await stores.reports.cleanResults(past, period, zone.name);
  const items = rows.map((row) => ({
    crewId: textOrNull(row['crew_id']),
    crew: textOrNull(row['crew']),
    task: textOrNull(row['task']),
    cleans: Number(row['cleans']),
    lines: Number(row['lines']),
    measuredBefore: Number(row['measured_before']),
    before: numberOrNull(row['before']),
    measuredAfter: Number(row['measured_after']),
    after: numberOrNull(row['after']),
    regrown: Number(row['regrown']),
    regrowthPerMonth: numberOrNull(row['regrowth_per_month']),
    flowProven: Number(row['flow_yes']),
    flowNotProven: Number(row['flow_no']),
  }));
  return {
    lines: await stores.reports.count(past),
    cleans: items.reduce((sum, { cleans }) => sum + cleans, 0),
    items,
  };
}
