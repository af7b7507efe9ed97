import type { House } from '../house.js';
import type { LinesAsked } from './lineFilter.js';

export interface UnknownFact {
  of: 'line' | 'site' | 'pit';
  fact: string;
  asked: number;
  unknown: number;
  assumed: number;
  /** Unknown or assumed. */
  share: number;
  /** Lines whose date was set by a rule that goes by it, without knowing it. */
  datesThatRestOnIt: number;
}

/** What is not known of the lines asked for, their sites and pits; what most dates rest on first, then what is most often missing. */
export async function unknownFacts(
  { stores }: House,
  asked: LinesAsked,
): Promise<{ lines: number; items: UnknownFact[] }> {
  const items = (await stores.reports.unknownFacts(asked)).map((row): UnknownFact => {
    const [of, unknown, assumed] = [Number(row['asked']), Number(row['unknown']), Number(row['assumed'])];
    return {
      of: row['of'] as UnknownFact['of'],
      fact: String(row['fact']),
      asked: of,
      unknown,
      assumed,
      share: of === 0 ? 0 : (unknown + assumed) / of,
      datesThatRestOnIt: Number(row['dates']),
    };
  });
  items.sort((a, b) => b.datesThatRestOnIt - a.datesThatRestOnIt || b.share - a.share);
  return { lines: await stores.reports.count(asked), items };
}
