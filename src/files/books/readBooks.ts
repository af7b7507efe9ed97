import { createHash } from 'node:crypto';
import type { ClientBase, CrewRow, LineRow, ReadingRow, SiteRow } from '../../actions/clientBase.js';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { OnProgress } from '../csvBytes.js';
import { FaultList, type Remark, type RowFault } from '../csvFault.js';
import type { CsvSource } from '../csvSource.js';
import { CREW_COLUMNS, LINE_COLUMNS, READING_COLUMNS, SITE_COLUMNS } from './bookColumns.js';
import { readTable } from './bookTable.js';

export interface ClientBaseFiles {
  sites?: CsvSource;
  lines?: CsvSource;
  readings?: CsvSource;
  crews?: CsvSource;
}

export type ReadBase = { base: ClientBase; remarks: Remark[] } | { faults: RowFault[]; total: number };

const SHOWN_FAULTS = 200;

/**
 * Reads a file set, all or nothing: one fault anywhere and only the faults come back.
 *
 * @param asOf Today in the business's zone: nothing observed lies after it.
 * @param sitesFollow False when lines come without their sites file (the forecast of a spreadsheet).
 */
export async function readClientBase(
  files: ClientBaseFiles,
  asOf: IsoDate,
  options: { onProgress?: OnProgress; sitesFollow?: boolean } = {},
): Promise<ReadBase> {
  const faults = new FaultList(SHOWN_FAULTS);
  const base: ClientBase = { sites: [], lines: [], readings: [], crews: [] };
  const { onProgress, sitesFollow = true } = options;

  const ids = {
    site: new Map<string, number>(),
    line: new Map<string, number>(),
    crew: new Map<string, number>(),
  };
  const once = (file: string, what: keyof typeof ids, id: string, line: number): boolean => {
    const first = ids[what].get(id);
    if (first === undefined) {
      ids[what].set(id, line);
      return true;
    }
    faults.add({
      file,
      line,
      column: `${what}_id`,
      value: id,
      problem: `the id is doubled: line ${first} has it too`,
      remedy: 'give each its own id, or remove one of the rows',
    });
    return false;
  };

  if (files.sites) {
    const file = files.sites.name;
    await readTable(
      files.sites,
      SITE_COLUMNS,
      faults,
      (cells, line) => {
        const row = cells as unknown as Omit<SiteRow, 'siteId' | 'area'> & {
          siteId: string | null;
          area: string | null;
        };
        if ((row.latitude === null) !== (row.longitude === null)) {
          faults.add({
            file,
            line,
            column: row.latitude === null ? 'latitude' : 'longitude',
            value: '',
            problem: 'one coordinate without the other',
            remedy: 'give both, or neither',
          });
        }
        if (row.lastCleaned !== null && row.lastCleaned > asOf) {
          faults.add({
            file,
            line,
            column: 'last_cleaned',
            value: row.lastCleaned,
            problem: `lies after today, ${asOf}`,
            remedy: 'the day of a clean that was done',
          });
        }
        const site: SiteRow = {
          ...row,
          siteId: row.siteId ?? derivedId(row.client, row.address),
          area: row.area ?? row.town,
        };
        if (once(file, 'site', site.siteId, line)) base.sites.push(site);
      },
      onProgress,
    );
  }

  if (files.lines) {
    const file = files.lines.name;
    await readTable(
      files.lines,
      LINE_COLUMNS,
      faults,
      (cells, line) => {
        const row = cells as unknown as LineRow;
        if (sitesFollow && files.sites && !ids.site.has(row.siteId)) {
          faults.add({
            file,
            line,
            column: 'site_id',
            value: row.siteId,
            problem: 'no such site in the sites file',
            remedy: 'add the site, or correct the id',
          });
        }
        if (row.installedOn !== null && row.installedOn > asOf) {
          faults.add({
            file,
            line,
            column: 'installed_on',
            value: row.installedOn,
            problem: `lies after today, ${asOf}`,
            remedy: 'the day the line was laid',
          });
        }
        if (once(file, 'line', row.lineId, line)) base.lines.push(row);
      },
      onProgress,
    );
    checkDrainage(file, base.lines, faults);
  }

  if (files.crews) {
    const file = files.crews.name;
    await readTable(
      files.crews,
      CREW_COLUMNS,
      faults,
      (cells, line) => {
        const row = cells as unknown as CrewRow;
        if (row.shiftStart >= row.shiftEnd) {
          faults.add({
            file,
            line,
            column: 'shift_end',
            value: row.shiftEnd,
            problem: 'the shift ends before it starts',
            remedy: 'an end after the start',
          });
        }
        if (once(file, 'crew', row.crewId, line)) base.crews.push(row);
      },
      onProgress,
    );
  }

  if (files.readings) await readReadings(files.readings, asOf, files, ids, base, faults, onProgress);
  if (faults.total > 0) return { faults: faults.faults, total: faults.total };
  return { base, remarks: faults.remarks };
}

async function readReadings(
  source: CsvSource,
  asOf: IsoDate,
  files: ClientBaseFiles,
  ids: { line: Map<string, number>; crew: Map<string, number> },
  base: ClientBase,
  faults: FaultList,
  onProgress: OnProgress | undefined,
): Promise<void> {
  const file = source.name;
  const seen = new Map<string, number>();
  // An instant of today in any zone is no later than the end of the day after, UTC.
  const latest = new Date(Date.parse(`${asOf}T00:00:00Z`) + 38 * 3_600_000).toISOString();
  await readTable(
    source,
    READING_COLUMNS,
    faults,
    (cells, line) => {
      const row = cells as unknown as ReadingRow;
      const fault = (column: string, value: string, problem: string, remedy: string) =>
        faults.add({ file, line, column, value, problem, remedy });
      if (files.lines && !ids.line.has(row.lineId))
        fault('line_id', row.lineId, 'no such line in the lines file', 'add the line, or correct the id');
      if (row.crewId !== null && files.crews && !ids.crew.has(row.crewId))
        fault('crew_id', row.crewId, 'no such crew in the crews file', 'add the crew, or correct the id');
      if (row.observedAt > latest)
        fault('observed_at', row.observedAt, `lies after today, ${asOf}`, 'the moment it was seen');
      if (row.plugged && row.occlusion !== null)
        fault(
          'occlusion',
          String(row.occlusion),
          'a plugged line has no occlusion',
          'leave the cell empty, or say plugged 0',
        );
      if (!row.plugged && row.occlusion === null && row.phase !== 'before_cleaning') {
        fault(
          'occlusion',
          '',
          'no reading: neither an occlusion nor plugged',
          'give the occlusion, or remove the row',
        );
      }
      if (!row.plugged && row.occlusion !== null && row.method === null)
        fault('method', '', 'an occlusion without its method', 'say how it was read');
      const key = `${row.lineId}|${row.observedAt}|${row.phase}|${row.method ?? ''}`;
      const first = seen.get(key);
      if (first !== undefined)
        fault(
          'observed_at',
          row.observedAt,
          `the reading is doubled: line ${first} has the same line, instant, phase and method`,
          'remove one of them',
        );
      else seen.set(key, line);
      base.readings.push(row);
    },
    onProgress,
  );
}

/** Water does not run in circles, and what a line drains to is on its site. */
function checkDrainage(file: string, lines: readonly LineRow[], faults: FaultList): void {
  const byId = new Map(lines.map((line) => [line.lineId, line]));
  for (const line of lines) {
    if (line.drainsTo === null || line.drainsTo === 'pit' || line.drainsTo === 'outlet') continue;
    const next = byId.get(line.drainsTo);
    if (!next || next.siteId !== line.siteId) {
      faults.add({
        file,
        line: null,
        column: 'drains_to',
        value: line.drainsTo,
        problem: `line ${line.lineId} drains to a line that its site does not have`,
        remedy: 'the id of a line of the same site, pit, or outlet',
      });
      continue;
    }
    const seen = new Set<string>([line.lineId]);
    for (
      let at: LineRow | undefined = next;
      at;
      at = at.drainsTo === null ? undefined : byId.get(at.drainsTo)
    ) {
      if (seen.has(at.lineId)) {
        faults.add({
          file,
          line: null,
          column: 'drains_to',
          value: line.lineId,
          problem: `what line ${line.lineId} drains to runs in a circle`,
          remedy: 'let the last line drain to pit or outlet',
        });
        break;
      }
      seen.add(at.lineId);
    }
  }
}

/** The same client at the same address is the same site, import after import. */
function derivedId(client: string, address: string): string {
  const words = `${client}|${address}`.toLowerCase().replace(/\s+/g, ' ');
  return `site-${createHash('sha256').update(words).digest('hex').slice(0, 12)}`;
}
