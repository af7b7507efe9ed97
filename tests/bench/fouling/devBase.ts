import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import type { LineEvidence } from '../../../src/domain/fouling/evidence.js';
import { readClientBase } from '../../../src/files/clientBase.js';
import { csvFromPath } from '../../../src/files/csvSource.js';
import { evidenceFromRows } from '../../../src/files/evidenceFromRows.js';

export interface KnownLine {
  evidence: LineEvidence;
  limit: number;
  readings: number;
  crossingDays: number;
}

export interface KnownBase {
  name: string;
  asOfDay: number;
  horizonDays: number;
  lines: KnownLine[];
}

/** A base in files whose truth is known: lines.csv, readings.csv, truth.csv, meta.json. */
export async function devBase(folder: string): Promise<KnownBase> {
  const meta = JSON.parse(readFileSync(join(folder, 'meta.json'), 'utf8')) as {
    as_of: string;
    horizon_days: number;
    process: string;
  };
  const read = await readClientBase(
    { lines: csvFromPath(join(folder, 'lines.csv')), readings: csvFromPath(join(folder, 'readings.csv')) },
    meta.as_of,
    {},
  );
  if ('faults' in read) throw new Error(JSON.stringify(read.faults[0]));
  const limits = new Map(read.base.lines.map((line) => [line.lineId, line.threshold ?? 0.45]));
  const truth = truthOf(join(folder, 'truth.csv'));
  return {
    name: `${folder} (${meta.process})`,
    asOfDay: dayNumber(meta.as_of),
    horizonDays: meta.horizon_days,
    lines: evidenceFromRows(read.base.lines, read.base.readings, meta.as_of).map((evidence) => {
      const known = truth.get(evidence.lineId);
      if (!known) throw new Error(`no truth for ${evidence.lineId}`);
      return { evidence, limit: limits.get(evidence.lineId) ?? 0.45, ...known };
    }),
  };
}

function truthOf(path: string): Map<string, { crossingDays: number; readings: number }> {
  const [head = '', ...rows] = readFileSync(path, 'utf8').trim().split('\n');
  const names = head.split(',');
  return new Map(
    rows.map((row) => {
      const cells = row.split(',');
      const cell = (name: string): string => cells[names.indexOf(name)] ?? '';
      const crossingDays = cell('beyond_horizon') === '1' ? Infinity : Number(cell('remaining_days'));
      return [cell('line_id'), { crossingDays, readings: Number(cell('readings')) }];
    }),
  );
}
