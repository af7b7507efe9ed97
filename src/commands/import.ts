import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { pino } from 'pino';
import { importClientBase } from '../actions/importClientBase.js';
import type { Config } from '../config.js';
import { businessZone } from '../domain/calendar/businessZone.js';
import { readMapping } from '../files/bookMapping.js';
import { type ClientBaseFiles, readClientBase } from '../files/clientBase.js';
import { faultText, type RowFault } from '../files/csvFault.js';
import { csvFromPath } from '../files/csvSource.js';
import { openHouse } from '../main.js';
import { progressLine } from './progress.js';

export const USAGE = `npm run import -- --dir FOLDER [--source NAME] [--mapping F] [--dry-run]
  or --sites F [--lines F] [--readings F] [--crews F]
  FOLDER holds sites.csv and, where you have them, lines.csv, readings.csv, crews.csv.
  Thin books: a sites.csv with client, address and last_cleaned is enough.
  --mapping F: a JSON file that says what your columns, words, days and units are here (openapi/import.md).`;

const FILES = ['sites', 'lines', 'readings', 'crews'] as const;

/** Brings a client base in from CSV: every fault named by line and column, all or nothing, safe to repeat. */
export async function importCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({
    args,
    options: {
      dir: { type: 'string' },
      sites: { type: 'string' },
      lines: { type: 'string' },
      readings: { type: 'string' },
      crews: { type: 'string' },
      source: { type: 'string', default: 'import' },
      mapping: { type: 'string' },
      'dry-run': { type: 'boolean', default: false },
    },
  });
  const mapping = values.mapping === undefined ? {} : readMapping(await readFile(values.mapping, 'utf8'));
  const files: ClientBaseFiles = {};
  for (const name of FILES) {
    const inFolder = values.dir === undefined ? undefined : join(values.dir, `${name}.csv`);
    const path = values[name] ?? (inFolder && existsSync(inFolder) ? inFolder : undefined);
    const map = mapping[name];
    if (path !== undefined) files[name] = { ...csvFromPath(path), ...(map ? { mapping: map } : {}) };
  }
  if (!files.sites) {
    console.error(values.dir === undefined ? USAGE : `there is no sites.csv in ${values.dir}\n${USAGE}`);
    return 2;
  }
  const asOf = businessZone(config.TIME_ZONE).dayOf(new Date());
  const reading = progressLine('reading');
  const got = await readClientBase(files, asOf, {
    onProgress: ({ file, bytesRead, bytesTotal }) =>
      reading.at(bytesTotal ? bytesRead / bytesTotal : 0, file),
  });
  reading.end();
  if ('faults' in got) {
    sayFaults(got.faults, got.total);
    return 1;
  }
  for (const remark of got.remarks)
    console.error(`${remark.file}${remark.line === null ? '' : ` line ${remark.line}`}: ${remark.text}`);
  const open = await openHouse(config, pino({ level: 'warn' }));
  try {
    const writing = progressLine('writing');
    const counts = await importClientBase(
      open.house,
      { name: 'import command' },
      { base: got.base, source: values.source, asOf, onProgress: (share, what) => writing.at(share, what) },
      { dryRun: values['dry-run'] },
    );
    writing.end();
    const parts = Object.entries(counts).map(
      ([what, n]) => `${n} ${what === 'alreadyThere' ? 'already there' : what}`,
    );
    console.log(`${values['dry-run'] ? 'dry run, nothing kept: ' : 'imported: '}${parts.join(', ')}`);
    return 0;
  } finally {
    await open.close();
  }
}

function sayFaults(faults: readonly RowFault[], total: number): void {
  for (const fault of faults) console.error(faultText(fault));
  const shown = total > faults.length ? `, the first ${faults.length} shown` : '';
  console.error(`${total} ${total === 1 ? 'fault' : 'faults'}${shown}; nothing was imported.`);
}
