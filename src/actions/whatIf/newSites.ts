import type { RateBelief } from '../../domain/fouling/simulatedLine.js';
import type { Chance } from '../../domain/statistics/chance.js';
import type { Row } from '../ports.js';
import type { CopiedLine } from './copiedBooks.js';
import type { YearBooks } from './yearBooks.js';

/** A line that came with a new client. */
export interface NewLine {
  copied: CopiedLine;
  row: Row;
  /** What is believed of the line it is like: what it may really be is drawn from that. */
  like: RateBelief[];
  pitOf: { systemId: string; pitId: string } | null;
}

/** New sites of a week, each like one of the base; of their past nothing is known. */
export function newSites(year: YearBooks, perWeek: number, week: number, chance: Chance): NewLine[] {
  const sites = [...new Set(year.books.lines.map(({ facts }) => facts.siteId))];
  const count = newcomers(perWeek * year.share, week);
  return Array.from({ length: count }, (_, i) => {
    const like = sites[Math.floor(chance.unit() * sites.length)];
    return year.books.lines
      .filter(({ facts }) => facts.siteId === like)
      .flatMap((line): NewLine[] => newLine(year, line, idsOf(week, i)));
  }).flat();
}

/** Of a number a week that need not be whole: what is left of one week comes with a later one. */
export const newcomers = (perWeek: number, week: number): number => {
  const until = (weeks: number): number => Math.floor(weeks * perWeek + 1e-9);
  return until(week + 1) - until(week);
};

function newLine(year: YearBooks, line: CopiedLine, idOf: (old: string) => string): NewLine[] {
  const row = year.rows.get(line.facts.lineId);
  if (!row) return [];
  const { lineId, siteId, pitId, drainsToLineId } = line.facts;
  const systemId = idOf(String(row['system_id']));
  const oldPit = year.pits.get(String(row['system_id']));
  return [
    {
      copied: {
        ...line,
        facts: {
          ...line.facts,
          lineId: idOf(lineId),
          siteId: idOf(siteId),
          pitId: pitId === null ? null : idOf(pitId),
          drainsToLineId: drainsToLineId === null ? null : idOf(drainsToLineId),
          epochId: null,
          epochStartedOn: null,
          epochBegins: null,
          epochBecause: null,
          bookedOn: null,
        },
        // Without numbers of its own a line goes by its traits.
        state: { ...line.state, digest: 'new', numbers: new Float64Array() },
        policy: { ...line.policy, careTerms: null, decisions: [] },
        old: null,
        events: [],
      },
      row: { ...row, id: idOf(lineId), site_id: idOf(siteId), system_id: systemId },
      like: year.beliefs.get(lineId) ?? [],
      pitOf: oldPit === undefined ? null : { systemId, pitId: idOf(oldPit) },
    },
  ];
}

/** New ids of one new site: the same old one gets the same new one, another site's another. */
const idsOf = (week: number, site: number) => {
  const mark = (week * 10_000 + site).toString(16).padStart(8, '0');
  return (old: string): string => `${mark}${old.slice(8)}`;
};
