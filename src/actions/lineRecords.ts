import { dayNumber } from '../domain/calendar/isoDate.js';
import { type PipeChanges, roughnessOf } from '../domain/hydraulics/pipes.js';
import type { PumpPoint } from '../domain/hydraulics/pumpCurve.js';
import type { LineRecord, PumpRecord, SectionRecord } from '../domain/readings/lineRecord.js';
import type { Deposit, LineKind, Material } from '../domain/words.js';
import { heldPipes } from './heldPipes.js';
import type { Stores } from './house.js';
import type { Row } from './ports.js';

const numberOf = (value: unknown): number | null =>
  value === null || value === undefined ? null : Number(value);
const dayOf = (value: unknown): number | null => (value === null ? null : dayNumber(String(value)));

/** Lines with their sections and the pumps of the pits they empty, by line id. */
export async function lineRecords(stores: Stores, lines: readonly Row[]): Promise<Map<string, LineRecord>> {
  const ids = lines.map((line) => line['id']);
  const sections = grouped(
    await stores.rows.all('line_section', [{ column: 'line_id', is: 'in', value: ids }]),
    'line_id',
  );
  const pits = await stores.rows.all('pit', [{ column: 'discharge_line_id', is: 'in', value: ids }]);
  const pumps =
    pits.length === 0
      ? new Map<string, Row[]>()
      : grouped(
          await stores.rows.all('pump', [
            { column: 'pit_id', is: 'in', value: pits.map((pit) => pit['id']) },
            { column: 'duty', is: '=', value: 'main' },
          ]),
          'pit_id',
        );
  const pipes = await heldPipes(stores);
  const pitOf = new Map(pits.map((pit) => [String(pit['discharge_line_id']), String(pit['id'])]));
  return new Map(
    lines.map((line) => {
      const id = String(line['id']);
      return [
        id,
        {
          kind: line['kind'] as LineKind,
          lengthM: numberOf(line['length_m']),
          liftM: numberOf(line['lift_m']),
          deposit: line['deposit'] as Deposit,
          sections: (sections.get(id) ?? []).map((row) => sectionOf(row, pipes)),
          pumps: (pumps.get(pitOf.get(id) ?? '') ?? []).map(pumpOf),
        },
      ];
    }),
  );
}

function grouped(rows: readonly Row[], column: string): Map<string, Row[]> {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const key = String(row[column]);
    groups.set(key, [...(groups.get(key) ?? []), row]);
  }
  return groups;
}

const sectionOf = (row: Row, pipes: PipeChanges): SectionRecord => ({
  id: String(row['id']),
  fromM: numberOf(row['from_m']),
  toM: numberOf(row['to_m']),
  material: row['material'] as Material,
  boreMm: numberOf(row['bore_mm']),
  roughness: roughnessOf(row['product'], row['material'] as Material, pipes),
  slope: numberOf(row['slope']),
  installedDay: dayOf(row['installed_on']),
  removedDay: dayOf(row['removed_on']),
});

const pumpOf = (row: Row): PumpRecord => ({
  curve: row['curve'] as readonly PumpPoint[] | null,
  installedDay: dayOf(row['installed_on']),
  removedDay: dayOf(row['removed_on']),
});
