import type { ClientBase } from '../actions/clientBase.js';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import { readCrews } from './clientBaseCrews.js';
import { readLines } from './clientBaseLines.js';
import { newReading, noIds, type ReadingOptions } from './clientBaseReading.js';
import { readReadings } from './clientBaseReadings.js';
import { readSites } from './clientBaseSites.js';
import type { Remark, RowFault } from './csvFault.js';
import type { CsvSource } from './csvSource.js';

/** A file set. Readings need their lines; lines without sites may lie on any site (a forecast's spreadsheet). */
export interface ClientBaseFiles {
  sites?: CsvSource;
  lines?: CsvSource;
  readings?: CsvSource;
  crews?: CsvSource;
}

/** Remarks are worth a look and stop nothing. `faults` are the first ones in full, `total` counts all. */
export type ReadBase = { base: ClientBase; remarks: Remark[] } | { faults: RowFault[]; total: number };

/**
 * Reads a file set, all or nothing: one fault anywhere and only the faults come back.
 *
 * @param asOf Today in the business's zone: nothing observed lies after it.
 */
export async function readClientBase(
  files: ClientBaseFiles,
  asOf: IsoDate,
  options: ReadingOptions = {},
): Promise<ReadBase> {
  const reading = newReading(asOf, options);
  const sites = files.sites ? await readSites(files.sites, reading) : null;
  const lines = files.lines ? await readLines(files.lines, sites?.ids ?? null, reading) : null;
  const crews = files.crews ? await readCrews(files.crews, reading) : null;
  const targets = {
    lines: lines?.lines ?? [],
    lineIds: lines?.ids ?? { ...noIds(), whole: false },
    crewIds: crews?.ids ?? null,
  };
  const readings = files.readings ? await readReadings(files.readings, targets, reading) : [];
  if (files.readings && lines === null) {
    reading.faults.add({
      file: files.readings.name,
      line: null,
      column: null,
      value: null,
      problem: 'readings without a lines file',
      remedy: 'give lines.csv too: the readings refer to its line_id',
    });
  }
  const { faults, total, remarks } = reading.faults;
  if (total > 0) return { faults, total };
  const base = { sites: sites?.sites ?? [], lines: targets.lines, readings, crews: crews?.crews ?? [] };
  return { base, remarks };
}
