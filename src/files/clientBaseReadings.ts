import { z } from 'zod';
import type { LineRow, ReadingRow } from '../actions/clientBase.js';
import { DEPOSITS, METHODS, PHASES, PLUG_CAUSES } from '../domain/words.js';
import { Doubles } from './clientBaseDoubles.js';
import type { Ids, Reading } from './clientBaseReading.js';
import {
  flagCell,
  idCell,
  instantCell,
  noteCell,
  optionalNumberCell,
  optionalTextCell,
  wordCell,
  wordCellOr,
} from './csvCells.js';
import type { Columns } from './csvHeader.js';
import { noteAt, parsedRow, type RowFaultNote } from './csvRow.js';
import type { CsvSource } from './csvSource.js';
import { readTable } from './csvTable.js';

export const READING_COLUMNS: Columns = {
  required: ['line_id', 'observed_at', 'phase', 'plugged'],
  optional: ['method', 'occlusion', 'crew_id', 'deposit', 'plug_cause', 'note', 'distance_m'],
  alsoCalled: {
    line_id: ['line', 'pipe', 'pipe_id', 'drain', 'drain_id'],
    observed_at: [
      ...['date', 'day', 'time', 'when', 'datetime', 'date_time', 'timestamp', 'observed', 'observed_on'],
      ...[
        'visit_date',
        'visited_on',
        'visited_at',
        'inspected_on',
        'inspected_at',
        'inspection_date',
        'measured_at',
      ],
    ],
    phase: ['stage', 'before_after'],
    method: ['read_by', 'measured_by'],
    occlusion: ['blockage', 'blocked', 'occluded', 'obstruction'],
    plugged: ['plug', 'clogged', 'blocked_solid'],
    crew_id: ['crew', 'team'],
    plug_cause: ['cause'],
    distance_m: ['distance'],
  },
};

const ROW = z.object({
  line_id: idCell(),
  observed_at: instantCell(),
  phase: wordCell(PHASES),
  method: wordCellOr(METHODS, null),
  occlusion: optionalNumberCell({
    unit: 'share of the bore, 0 to 1',
    min: 0,
    max: 1,
    outside: 'the blocked share of the bore, from 0 to 1; a percentage divided by 100',
  }),
  plugged: flagCell(),
  crew_id: optionalTextCell(120),
  deposit: wordCellOr(DEPOSITS, 'unknown'),
  plug_cause: wordCellOr(PLUG_CAUSES, null),
  note: noteCell(4000),
  distance_m: optionalNumberCell({ unit: 'm', min: 0, max: 2000 }),
});

type Row = z.output<typeof ROW>;

/** What readings refer to. Crew ids null: there is no crews file, any crew will do. */
export interface ReadingTargets {
  lines: readonly LineRow[];
  lineIds: Ids;
  crewIds: Ids | null;
}

export async function readReadings(
  source: CsvSource,
  targets: ReadingTargets,
  reading: Reading,
): Promise<ReadingRow[]> {
  const { faults } = reading;
  const readings: ReadingRow[] = [];
  const lines = new Map(targets.lines.map((line) => [line.lineId, line]));
  const doubles = new Doubles();
  const early = new EarlyReadings();
  await readTable(
    source,
    READING_COLUMNS,
    faults,
    (fileLine, cells) => {
      const note = noteAt(source.name, fileLine, faults);
      const row = parsedRow(ROW, cells, note);
      if (row === null) return;
      const line = lines.get(row.line_id);
      checkTargets(row, targets, note);
      checkFinding(row, note);
      if (row.observed_at >= reading.asOfEndsAtMs) {
        note(
          'observed_at',
          cells['observed_at'] ?? '',
          `lies after today, ${reading.asOf}`,
          'correct the day',
        );
      }
      const owner = targets.lineIds.lineOf.get(row.line_id);
      if (owner !== undefined) doubles.add(owner, naturalKey(row), fileLine);
      const read = toReading(row, line);
      early.look(read, line, fileLine);
      readings.push(read);
    },
    reading.onProgress,
  );
  early.report(source.name, reading);
  for (const { line, firstLine } of doubles.found()) {
    faults.add({
      file: source.name,
      line,
      column: 'observed_at',
      value: null,
      problem: `the reading is doubled: line ${firstLine} has the same line, instant, phase and method`,
      remedy: 'keep the right one of the two',
    });
  }
  return readings;
}

function checkTargets(row: Row, { lineIds, crewIds }: ReadingTargets, note: RowFaultNote): void {
  if (lineIds.whole && !lineIds.lineOf.has(row.line_id)) {
    note('line_id', row.line_id, 'no such line in the lines file', 'add the line, or correct the id');
  }
  if (row.crew_id !== null && crewIds?.whole && !crewIds.lineOf.has(row.crew_id)) {
    note('crew_id', row.crew_id, 'no such crew in the crews file', 'add the crew, or leave the cell empty');
  }
}

function checkFinding(row: Row, note: RowFaultNote): void {
  if (row.plugged && row.occlusion !== null) {
    const remedy = 'leave the cell empty, or say plugged 0';
    note('occlusion', String(row.occlusion), 'a plugged line has no occlusion', remedy);
  }
  if (!row.plugged && row.plug_cause !== null) {
    const remedy = 'leave the cell empty, or say plugged 1';
    note('plug_cause', row.plug_cause, 'a cause where the line was not plugged', remedy);
  }
  if (row.occlusion !== null && row.method === null) {
    const remedy = 'say how it was read; by_word when nobody knows';
    note('method', '', 'an occlusion without its method', remedy);
  }
  if (row.plugged || row.occlusion !== null) return;
  if (row.method !== null) {
    const remedy = 'give it; where nothing was measured leave the method empty too';
    note('occlusion', '', 'a method without its occlusion', remedy);
  } else if (row.phase !== 'before_cleaning') {
    const remedy = 'give method and occlusion, or remove the row';
    note('occlusion', '', 'no reading: neither an occlusion nor plugged', remedy);
  }
}

function toReading(row: Row, line: LineRow | undefined): ReadingRow {
  return {
    // The line's own text where it is known, so that a hundred thousand copies of ids are not kept.
    lineId: line?.lineId ?? row.line_id,
    observedAt: new Date(row.observed_at).toISOString(),
    phase: row.phase,
    method: row.method,
    occlusion: row.occlusion,
    plugged: row.plugged,
    plugCause: row.plug_cause,
    crewId: row.crew_id,
    deposit: row.deposit,
    note: row.note,
    distanceM: row.distance_m,
  };
}

/** Beside its line, a reading is known by instant, phase and method. */
function naturalKey(row: Row): number {
  const method = row.method === null ? METHODS.length : METHODS.indexOf(row.method);
  return row.observed_at * 64 + PHASES.indexOf(row.phase) * 16 + method;
}

/**
 * Readings older than the pipe: of the one that was there before, or a day is wrong. They are kept, since such
 * a line's start then counts as unknown; a person should look.
 */
class EarlyReadings {
  private count = 0;
  private first: { fileLine: number; installedOn: string } | null = null;

  look(read: ReadingRow, line: LineRow | undefined, fileLine: number): void {
    const installedOn = line?.installedOn ?? null;
    if (installedOn === null || read.observedAt.slice(0, 10) >= installedOn) return;
    this.count += 1;
    this.first ??= { fileLine, installedOn };
  }

  report(file: string, { faults }: Reading): void {
    if (this.first === null) return;
    const readings = this.count === 1 ? 'one reading lies' : `${this.count} readings lie`;
    const text = `${readings} before the line was installed (here ${this.first.installedOn}): check installed_on`;
    faults.remark(file, this.first.fileLine, text);
  }
}
