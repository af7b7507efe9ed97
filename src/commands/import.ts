import { createReadStream, existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { importClientBase } from '../actions/importClientBase.js';
import { bringRecords } from '../actions/records/bringRecords.js';
import { RECORD_KINDS } from '../actions/records/recordKinds.js';
import type { Config } from '../config.js';
import { businessZone } from '../domain/calendar/businessZone.js';
import { readMapping } from '../files/bookMapping.js';
import { type ClientBaseFiles, readClientBase } from '../files/clientBase.js';
import { FaultList, faultText, type RowFault } from '../files/csvFault.js';
import { csvFromPath } from '../files/csvSource.js';
import { fileColumns } from '../http/records/recordColumns.js';
import { readRecordFile } from '../http/records/recordFile.js';
import { openHouse } from '../main.js';
import { AT_FIRST } from '../persistence/keptHouse.js';
import { commandLog } from './commandLog.js';
import { progressLine } from './progress.js';

export const USAGE = `npm run import -- --dir FOLDER [--source NAME] [--mapping F] [--dry-run]
  or --sites F [--lines F] [--readings F] [--crews F]
  or --records FOLDER [--dry-run]
  FOLDER holds sites.csv and, where you have them, lines.csv, readings.csv, crews.csv.
  Thin books: a sites.csv with client, address and last_cleaned is enough.
  --mapping F: a JSON file that says what your columns, words, days and units are here (openapi/import.md).
  --records FOLDER: the records that an export wrote, ids and all; any of its files.`;

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
      records: { type: 'string' },
      'dry-run': { type: 'boolean', default: false },
    },
  });
  if (values.records !== undefined) return importRecords(values.records, values['dry-run'], config);
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
  const asOf = businessZone(config.TIME_ZONE ?? AT_FIRST.timeZone).dayOf(new Date());
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
  const open = await openHouse(config, { log: commandLog(), as: 'command' });
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

const FAULTS_SHOWN = 100;

/** Brings in the records of an export, all or nothing; what is there already stays as it is. */
async function importRecords(folder: string, dryRun: boolean, config: Config): Promise<number> {
  const kinds = RECORD_KINDS.filter(({ name }) => existsSync(join(folder, `${name}.csv`)));
  if (kinds.length === 0) {
    console.error(
      `there are no records in ${folder}: none of ${RECORD_KINDS.map(({ name }) => `${name}.csv`).join(', ')}`,
    );
    return 2;
  }
  const open = await openHouse(config, { log: commandLog(), as: 'command' });
  try {
    const tables = new Map((await open.house.stores.records.tables()).map((table) => [table.table, table]));
    const faults = new FaultList(FAULTS_SHOWN);
    const brought = [];
    for (const kind of kinds) {
      const table = tables.get(kind.table);
      if (!table) throw new RangeError(`there is no table ${kind.table}`);
      const file = `${kind.name}.csv`;
      brought.push(await readRecordFile(kind, table, file, createReadStream(join(folder, file)), faults));
    }
    if (faults.total > 0) {
      sayFaults(faults.faults, faults.total);
      return 1;
    }
    const writing = progressLine('writing');
    const done = await bringRecords(open.house, { name: 'import command' }, brought, {
      dryRun,
      onProgress: (share, what) => writing.at(share, what),
    });
    writing.end();
    if ('refused' in done) {
      const { name, column, ...fault } = done.refused;
      const kind = kinds.find((each) => each.name === name);
      const table = tables.get(kind?.table ?? '');
      const columns = kind && table ? fileColumns(kind, table) : [];
      sayFaults(
        [
          {
            file: kind ? `${name}.csv` : name,
            column: columns.find((each) => each.column === column)?.name ?? column,
            ...fault,
          },
        ],
        1,
      );
      return 1;
    }
    const parts = Object.entries(done.fresh).flatMap(([name, n]) => (n > 0 ? [`${n} ${name}`] : []));
    console.log(
      `${dryRun ? 'dry run, nothing kept: ' : 'imported: '}${[...parts, `${done.alreadyThere} already there`].join(', ')}`,
    );
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
