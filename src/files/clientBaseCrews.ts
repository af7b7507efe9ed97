import { z } from 'zod';
import type { CrewRow } from '../actions/clientBase.js';
import { KIT_KINDS, WEEKDAYS } from '../domain/words.js';
import { type Ids, noIds, type Reading, takeId } from './clientBaseReading.js';
import {
  idCell,
  numberCell,
  optionalNumberCell,
  optionalTimeOfDayCell,
  textCell,
  timeOfDayCell,
  wordListCell,
} from './csvCells.js';
import type { Columns } from './csvHeader.js';
import { noteAt, parsedRow, type RowFaultNote } from './csvRow.js';
import type { CsvSource } from './csvSource.js';
import { readTable } from './csvTable.js';

/** Common practice, no source: two for jetting and digs. */
const USUAL_PEOPLE = 2;

export const CREW_COLUMNS: Columns = {
  required: [
    'crew_id',
    'name',
    'depot',
    'depot_latitude',
    'depot_longitude',
    'kit',
    'shift_start',
    'shift_end',
    'weekdays',
  ],
  optional: ['people', 'break_after', 'break_minutes'],
  alsoCalled: {
    crew_id: ['crew', 'id', 'team', 'team_id'],
    name: ['crew_name', 'team_name'],
    depot: ['yard'],
    depot_latitude: ['latitude', 'lat'],
    depot_longitude: ['longitude', 'lon', 'lng', 'long'],
    kit: ['kits', 'equipment', 'tools'],
    shift_start: ['start', 'starts_at', 'start_time'],
    shift_end: ['end', 'ends_at', 'end_time'],
    weekdays: ['days', 'work_days', 'working_days'],
    people: ['crew_size', 'persons'],
    break_after: ['break', 'break_at', 'lunch'],
    break_minutes: ['lunch_minutes'],
  },
};

const ROW = z.object({
  crew_id: idCell(),
  name: textCell(120),
  depot: textCell(120),
  depot_latitude: numberCell({ unit: 'degrees north', min: -90, max: 90 }),
  depot_longitude: numberCell({ unit: 'degrees east', min: -180, max: 180 }),
  kit: wordListCell(KIT_KINDS),
  shift_start: timeOfDayCell(),
  shift_end: timeOfDayCell(),
  weekdays: wordListCell(WEEKDAYS),
  people: optionalNumberCell({ unit: 'people', min: 1, max: 12, whole: true }),
  break_after: optionalTimeOfDayCell(),
  break_minutes: optionalNumberCell({ unit: 'minutes', min: 0, max: 240, whole: true }),
});

type Row = z.output<typeof ROW>;

export async function readCrews(
  source: CsvSource,
  reading: Reading,
): Promise<{ crews: CrewRow[]; ids: Ids }> {
  const crews: CrewRow[] = [];
  const ids = noIds();
  const depots = new Map<string, { row: Row; line: number }>();
  ids.whole = await readTable(
    source,
    CREW_COLUMNS,
    reading.faults,
    (line, cells) => {
      const note = noteAt(source.name, line, reading.faults);
      takeId(ids, 'crew_id', cells['crew_id'] ?? '', line, note);
      const row = parsedRow(ROW, cells, note);
      if (row === null) return;
      if (row.shift_start >= row.shift_end) {
        note('shift_end', row.shift_end, 'the shift ends before it starts', 'an end after the start');
      }
      checkBreak(row, note);
      checkDepot(row, line, depots, note);
      crews.push(toCrew(row));
    },
    reading.onProgress,
  );
  return { crews, ids };
}

/** A break has its time, in the shift, and its length. */
function checkBreak({ break_after, break_minutes, shift_start, shift_end }: Row, note: RowFaultNote): void {
  if (break_after === null) {
    if (break_minutes === null || break_minutes === 0) return;
    note('break_after', '', 'a break without its time', 'the time after which it is taken, such as 12:00');
  } else if (break_minutes === null) {
    note('break_minutes', '', 'a break without its length', 'its minutes, or leave break_after empty too');
  } else if (break_after < shift_start || break_after >= shift_end) {
    const problem = `outside the shift, ${shift_start} to ${shift_end}`;
    note('break_after', break_after, problem, 'a time within the shift');
  }
}

/** A depot stands in one place, however many crews leave from it. */
function checkDepot(
  row: Row,
  line: number,
  depots: Map<string, { row: Row; line: number }>,
  note: RowFaultNote,
): void {
  const first = depots.get(row.depot);
  if (first === undefined) depots.set(row.depot, { row, line });
  else if (
    first.row.depot_latitude !== row.depot_latitude ||
    first.row.depot_longitude !== row.depot_longitude
  ) {
    const place = `${first.row.depot_latitude}, ${first.row.depot_longitude}`;
    const problem = `on line ${first.line} this depot stands elsewhere (${place})`;
    note('depot', row.depot, problem, 'give both rows the same place, or the depots two names');
  }
}

function toCrew(row: Row): CrewRow {
  return {
    crewId: row.crew_id,
    name: row.name,
    depot: row.depot,
    depotLatitude: row.depot_latitude,
    depotLongitude: row.depot_longitude,
    kit: row.kit,
    shiftStart: row.shift_start,
    shiftEnd: row.shift_end,
    weekdays: row.weekdays,
    people: row.people ?? USUAL_PEOPLE,
    breakAfter: row.break_after,
    breakMinutes: row.break_minutes ?? 0,
  };
}
