import { z } from 'zod';
import type { LineRow } from '../actions/clientBase.js';
import { boundsOf } from '../domain/units/measures.js';
import { CONDITIONS, LINE_KINDS, MATERIALS, OUTLETS } from '../domain/words.js';
import { checkDrainage } from './clientBaseDrainage.js';
import { checkNotLater, type Ids, noIds, type Reading, takeId } from './clientBaseReading.js';
import {
  cell,
  idCell,
  optionalDayCell,
  optionalFlagCell,
  optionalNumberCell,
  readText,
  wordCell,
  wordCellOr,
} from './csvCells.js';
import type { Columns } from './csvHeader.js';
import { noteAt, parsedRow } from './csvRow.js';
import type { CsvSource } from './csvSource.js';
import { readTable } from './csvTable.js';

export const LINE_COLUMNS: Columns = {
  required: ['line_id', 'site_id', 'kind'],
  optional: [
    'material',
    'inside_diameter_mm',
    'length_m',
    'installed_on',
    'ferrous_iron_mg_l',
    'threshold',
    'outlet',
    'drains_to',
    'condition',
    'perforated',
    'wrapped',
    'slope_pct',
  ],
  alsoCalled: {
    line_id: ['id', 'line', 'line_no', 'pipe', 'pipe_id', 'drain', 'drain_id'],
    site_id: ['site', 'property_id'],
    kind: ['type', 'line_type', 'line_kind', 'drain_type'],
    material: ['pipe_material'],
    inside_diameter_mm: [
      'inside_diameter',
      'diameter',
      'diameter_mm',
      'bore',
      'bore_mm',
      'inner_diameter_mm',
    ],
    length_m: ['length', 'pipe_length', 'pipe_length_m'],
    installed_on: ['installed', 'install_date', 'installation_date', 'laid', 'laid_on'],
    ferrous_iron_mg_l: ['ferrous_iron', 'iron', 'iron_mg_l', 'fe', 'fe_mg_l'],
    threshold: ['limit', 'action_limit'],
    drains_to: ['drains_into', 'flows_to', 'flows_into'],
    slope_pct: ['slope', 'fall_pct', 'grade_pct', 'gradient'],
  },
};

const ROW = z.object({
  line_id: idCell(),
  site_id: idCell(),
  kind: wordCell(LINE_KINDS),
  material: wordCellOr(MATERIALS, 'unknown'),
  inside_diameter_mm: optionalNumberCell({ unit: 'mm', ...boundsOf('bore') }),
  length_m: optionalNumberCell({ unit: 'm', ...boundsOf('lineLength') }),
  installed_on: optionalDayCell(),
  ferrous_iron_mg_l: optionalNumberCell({ unit: 'mg/L', ...boundsOf('iron') }),
  threshold: optionalNumberCell({
    unit: 'share of the bore',
    min: 0.05,
    max: 0.95,
    outside: 'a share of the bore such as 0.4; a percentage divided by 100',
  }),
  outlet: wordCellOr(OUTLETS, 'unknown'),
  drains_to: cell((text, no) => (text === '' || text === 'unknown' ? null : readText(120)(text, no))),
  condition: wordCellOr(CONDITIONS, 'unknown'),
  perforated: optionalFlagCell(),
  wrapped: optionalFlagCell(),
  slope_pct: optionalNumberCell({ unit: '%, fall over length', min: 0, max: 100 }),
});

/**
 * Reads lines.csv. `siteIds` null: there is no sites file, any site will do. What drains to what must stay
 * within the site and come to an end.
 */
export async function readLines(
  source: CsvSource,
  siteIds: Ids | null,
  reading: Reading,
): Promise<{ lines: LineRow[]; ids: Ids }> {
  const { faults } = reading;
  const lines: LineRow[] = [];
  const ids = noIds();
  ids.whole = await readTable(
    source,
    LINE_COLUMNS,
    faults,
    (line, cells) => {
      const note = noteAt(source.name, line, faults);
      const isNew = takeId(ids, 'line_id', cells['line_id'] ?? '', line, note);
      const row = parsedRow(ROW, cells, note);
      if (row === null) return;
      if (siteIds?.whole && !siteIds.lineOf.has(row.site_id)) {
        const remedy = 'add the site, or correct the id';
        note('site_id', row.site_id, 'no such site in the sites file', remedy);
      }
      checkNotLater('installed_on', row.installed_on, reading, note);
      if (isNew) lines.push(toLine(row));
    },
    reading.onProgress,
  );
  if (ids.whole) {
    checkDrainage(lines, ids, (lineId) => noteAt(source.name, ids.lineOf.get(lineId) ?? 0, faults));
  }
  return { lines, ids };
}

function toLine(row: z.output<typeof ROW>): LineRow {
  return {
    lineId: row.line_id,
    siteId: row.site_id,
    kind: row.kind,
    material: row.material,
    boreMm: row.inside_diameter_mm,
    lengthM: row.length_m,
    installedOn: row.installed_on,
    ferrousIronMgL: row.ferrous_iron_mg_l,
    threshold: row.threshold,
    outlet: row.outlet,
    drainsTo: row.drains_to,
    condition: row.condition,
    perforated: row.perforated,
    wrapped: row.wrapped,
    slopePct: row.slope_pct,
  };
}
