import { join } from 'node:path';
import type { EmbeddedPostgres } from '../../../src/persistence/embeddedPostgres.js';
import { costOf, treeSeconds } from '../machine/processTree.js';

export interface Night {
  estimate: number;
  date: number;
  seconds: number;
  /** Of the night's process and the database together. */
  processor: number;
  mib: number;
  counts: string;
}

/**
 * The steps `estimate` and `date` of a day's night in a process of their own, measured with the database's.
 *
 * @param threads Workers of the night; absent: as many as it takes by itself.
 */
export async function measuredNight(
  server: EmbeddedPostgres,
  database: string,
  day: string,
  threads?: number,
): Promise<Night> {
  const before = treeSeconds(server.pid()) ?? Number.NaN;
  const cost = await costOf(
    process.execPath,
    [
      join(import.meta.dirname, 'oneNight.js'),
      ...['--url', server.url(database), '--day', day],
      ...(threads === undefined ? [] : ['--threads', String(threads)]),
    ],
    { alsoWatch: [server.pid()], onErrors: (text) => process.stderr.write(text) },
  );
  const databaseSeconds = (treeSeconds(server.pid()) ?? Number.NaN) - before;
  const { estimate, date, processor, counts } = JSON.parse(cost.output) as {
    estimate: number;
    date: number;
    processor: number;
    counts: object;
  };
  return {
    estimate,
    date,
    seconds: estimate + date,
    processor: processor + databaseSeconds,
    mib: cost.treeMib ?? Number.NaN,
    counts: JSON.stringify(counts),
  };
}
