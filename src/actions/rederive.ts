import { type EarlierReading, type LineRecord, readingFactsAt } from '../domain/readings/lineRecord.js';
import { CONVERSION_VERSION, occlusionOf, type Reading } from '../domain/readings/occlusionOf.js';
import type { Deposit, Phase } from '../domain/words.js';
import type { Stores } from './house.js';
import { lineRecords } from './lineRecords.js';
import type { Row } from './ports.js';

const DAY_MS = 86_400_000;
const LINES_AT_ONCE = 500;

/** Readings that say what a pump moves through its line, and serve later ones as the clean reference. */
export const isPumped = (method: unknown): boolean => method === 'pit_drawdown' || method === 'timed_fill';

/** Books brought in by earlier releases kept the share alone: the row says how it was read. */
export const earlierReading = (row: Row): EarlierReading => ({
  day: Date.parse(String(row['observed_at'])) / DAY_MS,
  phase: row['phase'] as Phase,
  reading: { method: row['method'], ...(row['raw'] as object) } as Reading,
});

const inForce = (row: Row): boolean => row['withdrawn_at'] === null && row['replaced_at'] === null;

/**
 * Derives the occlusion of every reading of some lines again, from the readings as they were read: after a bore,
 * a length, a lift or a pump curve was corrected, or a clean reference came or went.
 *
 * @returns Number of readings whose occlusion changed.
 */
export async function rederiveLines(stores: Stores, lineIds: readonly string[]): Promise<number> {
  let changed = 0;
  for (let at = 0; at < lineIds.length; at += LINES_AT_ONCE) {
    const ids = lineIds.slice(at, at + LINES_AT_ONCE);
    const lines = await stores.rows.all('line', [{ column: 'id', is: 'in', value: ids }]);
    const records = await lineRecords(stores, lines);
    const inspections = await stores.rows.all(
      'inspection',
      [{ column: 'line_id', is: 'in', value: ids }],
      'observed_at',
    );
    const byLine = new Map<string, Row[]>();
    for (const row of inspections) {
      const id = String(row['line_id']);
      const held = byLine.get(id);
      if (held) held.push(row);
      else byLine.set(id, [row]);
    }
    const rows = [...byLine].flatMap(([id, own]) => {
      const record = records.get(id);
      return record ? derivedAgain(record, own) : [];
    });
    changed += await stores.work.setOcclusions(rows);
  }
  return changed;
}

/** The night derives again what an older formula derived. */
export async function rederiveOutdated(stores: Stores): Promise<number> {
  return rederiveLines(stores, await stores.work.linesConvertedBefore(CONVERSION_VERSION));
}

function derivedAgain(record: LineRecord, inspections: readonly Row[]): Row[] {
  const references = inspections
    .filter((row) => isPumped(row['method']) && row['phase'] === 'after_cleaning' && inForce(row))
    .map(earlierReading);
  return inspections.flatMap((row) => {
    if (row['method'] === null || row['plugged'] === true) return bare(row);
    const now = earlierReading(row);
    const facts = readingFactsAt(record, now.day, row['deposit'] as Deposit, references);
    const got = occlusionOf(now.reading, facts);
    const derived = got.ok
      ? { occlusion: got.occlusion, standard_error: got.standardError, bound: got.bound, notes: got.notes }
      : {
          // A depth deeper than the bore turned out to be says nothing; the reading stays, and why it does not count.
          occlusion: null,
          standard_error: null,
          bound: 'exact',
          notes: got.faults.map(({ pointer, detail }) => ({
            code: 'does-not-fit-the-line',
            facts: { pointer },
            text: `the reading no longer fits what is known of the line: ${detail}`,
          })),
        };
    return [{ id: row['id'], ...derived, conversion_version: CONVERSION_VERSION }];
  });
}

/** Nothing to derive: the version alone moves on. */
const bare = (row: Row): Row[] => [
  {
    id: row['id'],
    occlusion: row['occlusion'],
    standard_error: row['standard_error'],
    bound: row['bound'],
    notes: row['notes'],
    conversion_version: CONVERSION_VERSION,
  },
];
