import type { DueRule } from '../../domain/fouling/dueDateReason.js';
import type { Basement, Material, ProposalKind } from '../../domain/words.js';
import {
  type Idea,
  ideasForLine,
  ideasForPit,
  type LineFactsForIdeas,
  type PitFactsForIdeas,
} from '../../domain/work/proposalIdeas.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { LinesAsked } from '../reports/lineFilter.js';

export interface ProposalIdea extends Idea {
  siteId: string;
  address: string;
  lineId: string | null;
  pitId: string | null;
  name: string;
  /** A proposal of this kind is drafted or offered already. */
  open: boolean;
}

const numberOrNull = (value: unknown): number | null => (value === null ? null : Number(value));

/** What the records speak for: cleanouts, smooth pipes, alarms, second pumps; most visits saved first. */
export async function proposalIdeas(stores: Stores, asked: LinesAsked): Promise<ProposalIdea[]> {
  const { lines, pits } = await stores.reports.proposalFacts(asked);
  const ideas = [
    ...lines.flatMap((row) => ideasForLine(lineFactsOf(row)).map((idea) => placed(row, idea))),
    ...pits.flatMap((row) => ideasForPit(pitFactsOf(row)).map((idea) => placed(row, idea))),
  ];
  return ideas.sort((a, b) => (b.visitsSavedPerYear ?? 0) - (a.visitsSavedPerYear ?? 0));
}

/** The same as an answer with its count of lines. */
export async function proposalIdeasReport({ stores }: House, asked: LinesAsked) {
  return { lines: await stores.reports.count(asked), items: await proposalIdeas(stores, asked) };
}

function placed(row: Row, idea: Idea): ProposalIdea {
  return {
    siteId: String(row['site_id']),
    address: String(row['address']),
    lineId: row['line_id'] === null ? null : String(row['line_id']),
    pitId: row['pit_id'] === null ? null : String(row['pit_id']),
    name: String(row['name']),
    open: (row['open_kinds'] as ProposalKind[]).includes(idea.kind),
    ...idea,
  };
}

const lineFactsOf = (row: Row): LineFactsForIdeas => ({
  material: row['material'] as Material,
  lengthM: numberOrNull(row['length_m']),
  hasCleanout: row['has_cleanout'] === true,
  nozzleStops: Number(row['nozzle_stops']),
  furthestM: numberOrNull(row['furthest_m']),
  longestReachM: numberOrNull(row['longest_reach_m']),
  ratePerMonth: Number(row['rate_per_month']),
  intervalDays: numberOrNull(row['interval_days']),
  dueRule: row['due_rule'] as DueRule | null,
  readingsUsed: Number(row['readings_used']),
  smoothRatePerMonth: numberOrNull(row['smooth_rate']),
  smoothLines: Number(row['smooth_lines']),
});

const pitFactsOf = (row: Row): PitFactsForIdeas => ({
  basement: row['basement'] as Basement,
  pumps: Number(row['pumps']),
  backups: Number(row['backups']),
  alarm: row['alarm'] as boolean | null,
  plugChanceYear: numberOrNull(row['plug_chance_year']),
  calls: Number(row['calls']),
  floods: Number(row['floods']),
  plugs: Number(row['plugs']),
});
