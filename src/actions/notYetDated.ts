import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { House } from './house.js';
import type { Row } from './ports.js';

/** What happened on a line that its due date does not know of. */
export interface NotYetDated {
  kind: 'plugged' | 'reading' | 'clean';
  at: string;
  /** In words for the card, such as "found plugged on 2026-11-26, not yet dated". */
  text: string;
}

/**
 * What was found or done since the day began on which lines were dated: a night reads the days before its own.
 * @param trends Rows with `id` of the line and `as_of`.
 * @returns By line, the earliest first; lines without any are left out.
 */
export async function notYetDated(
  { stores, zone }: House,
  trends: readonly Row[],
): Promise<Map<string, NotYetDated[]>> {
  const begins = new Map(
    trends.map((row) => [String(row['id']), zone.instantOf(String(row['as_of']), 0).getTime()]),
  );
  const since = new Map<string, NotYetDated[]>();
  if (begins.size === 0) return since;
  const from = new Date(Math.min(...begins.values())).toISOString();
  const ofLines = { column: 'line_id', is: 'in', value: [...begins.keys()] } as const;
  const inspections = await stores.rows.all(
    'inspection',
    [
      ofLines,
      { column: 'observed_at', is: '>=', value: from },
      { column: 'withdrawn_at', is: 'null' },
      { column: 'replaced_at', is: 'null' },
    ],
    'observed_at',
  );
  const cleans = await stores.rows.all(
    'clean',
    [ofLines, { column: 'cleaned_at', is: '>=', value: from }, { column: 'withdrawn_at', is: 'null' }],
    'cleaned_at',
  );
  const add = (row: Row, kind: NotYetDated['kind'], at: Date): void => {
    const lineId = String(row['line_id']);
    if (at.getTime() < (begins.get(lineId) ?? Infinity)) return;
    const told = { kind, at: at.toISOString(), text: wordsOf(row, kind, zone.dayOf(at)) };
    since.set(
      lineId,
      [...(since.get(lineId) ?? []), told].sort((a, b) => (a.at < b.at ? -1 : 1)),
    );
  };
  for (const row of inspections) {
    if (row['plugged'] !== true && row['occlusion'] === null) continue;
    add(row, row['plugged'] === true ? 'plugged' : 'reading', new Date(String(row['observed_at'])));
  }
  for (const row of cleans) add(row, 'clean', new Date(String(row['cleaned_at'])));
  return since;
}

function wordsOf(row: Row, kind: NotYetDated['kind'], on: IsoDate): string {
  switch (kind) {
    case 'plugged':
      return `found plugged on ${on}, not yet dated`;
    case 'reading':
      return `${Math.round(100 * Number(row['occlusion']))} % blocked read on ${on}, not yet dated`;
    case 'clean':
      return `cleaned on ${on}, not yet dated`;
    default:
      return kind satisfies never;
  }
}
