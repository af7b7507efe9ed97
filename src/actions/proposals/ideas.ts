import type { Basement, Material, ProposalKind } from '../../domain/words.js';
import {
  foulsFasterThanSmooth,
  type Idea,
  ideasForLine,
  ideasForPit,
  type LineFactsForIdeas,
  type PitFactsForIdeas,
} from '../../domain/work/proposalIdeas.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import type { LinesAsked } from '../reports/lineFilter.js';
import type { NightHouse } from '../whatIf/copiedBooks.js';
import { type PipeToReplace, smoothPipeVisits } from './smoothPipes.js';

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
export async function proposalIdeas(house: NightHouse, asked: LinesAsked): Promise<ProposalIdea[]> {
  const { lines, pits } = await house.stores.reports.proposalFacts(asked);
  const facts = lines.map((row) => ({ row, line: lineFactsOf(row) }));
  const smooth = await smoothPipeVisits(
    house,
    asked.today,
    facts.filter(({ line }) => foulsFasterThanSmooth(line)).map(({ row }) => pipeOf(row)),
  );
  const ideas = [
    ...facts.flatMap(({ row, line }) =>
      ideasForLine({ ...line, smooth: smooth.get(String(row['line_id'])) ?? null }).map((idea) =>
        placed(row, idea),
      ),
    ),
    ...pits.flatMap((row) => ideasForPit(pitFactsOf(row)).map((idea) => placed(row, idea))),
  ];
  return ideas.sort((a, b) => (b.visitsSavedPerYear ?? 0) - (a.visitsSavedPerYear ?? 0));
}

/** The same as an answer with its count of lines. */
export async function proposalIdeasReport(house: House, asked: LinesAsked) {
  return { lines: await house.stores.reports.count(asked), items: await proposalIdeas(house, asked) };
}

const pipeOf = (row: Row): PipeToReplace => ({
  lineId: String(row['line_id']),
  systemLineIds: (row['system_line_ids'] as string[]).map(String),
  hasPit: row['has_pit'] === true,
});

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

const lineFactsOf = (row: Row): Omit<LineFactsForIdeas, 'smooth'> => ({
  material: row['material'] as Material,
  lengthM: numberOrNull(row['length_m']),
  hasCleanout: row['has_cleanout'] === true,
  nozzleStops: Number(row['nozzle_stops']),
  furthestM: numberOrNull(row['furthest_m']),
  longestReachM: numberOrNull(row['longest_reach_m']),
  ratePerMonth: Number(row['rate_per_month']),
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
