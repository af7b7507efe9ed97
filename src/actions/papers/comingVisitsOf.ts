import { addDays, dayNumber, daysBetween, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { dueDateOfSystem, siteVisits } from '../../domain/fouling/dueDateOfSystem.js';
import type { DueRule } from '../../domain/fouling/dueDateReason.js';
import type { LineKind } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { Coming, ComingVisit, NamedLine } from '../../papers/comingVisits.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { dayOf, isIn } from './clientRecords.js';

/** Each line is reckoned anew at least in the month's first night: what was told of a visit was reckoned within so long. */
const TOLD_WITHIN_DAYS = 31;

/** When a house was looked at or cleaned, and how often. */
export interface HouseDays {
  /** Days in order. */
  evidence: readonly IsoDate[];
  /** By line. */
  last: ReadonlyMap<unknown, IsoDate>;
  cleans: ReadonlyMap<unknown, number>;
}

/** @param lines In service, of one house. */
export async function houseDays(house: House, lines: readonly Row[]): Promise<HouseDays> {
  const { rows } = house.stores;
  const ids = lines.map((line) => line['id']);
  const kept = [isIn('line_id', ids), { column: 'withdrawn_at', is: 'null' as const }];
  const cleans = await rows.all('clean', kept);
  const found = [
    ...(await rows.all('inspection', kept)).map((row) => ({ ...row, day: dayOf(house, row['observed_at']) })),
    ...cleans.map((row) => ({ ...row, day: dayOf(house, row['cleaned_at']) })),
  ].sort((a, b) => (a.day < b.day ? -1 : 1));
  const count = (id: unknown) => cleans.filter((row) => row['line_id'] === id).length;
  return {
    evidence: [...new Set(found.map(({ day }) => day))],
    last: new Map(found.map((row: Row) => [row['line_id'], String(row['day'])])),
    cleans: new Map(ids.map((id) => [id, count(id)])),
  };
}

/**
 * When the house is come to next by what the service believes now.
 *
 * @returns Null where nothing is dated, or no night has reckoned with a line's last visit yet.
 */
export async function comingNow(
  house: House,
  lines: readonly Row[],
  { last, cleans }: HouseDays,
  today: IsoDate,
): Promise<Coming | null> {
  const ids = lines.map((line) => line['id']);
  const trends = await house.stores.rows.all('trend_list', [isIn('id', ids)]);
  // A day reckoned before the last visit says nothing about the time after it.
  if (trends.some((row) => String(row['as_of']) <= (last.get(row['id']) ?? ''))) return null;
  const dated = new Map(trends.map((row) => [row['id'], row]));
  return comingOf(lines, { dated, on: today }, cleans, await ownerSettings(house.stores));
}

/**
 * When the house was to be come to next by what the service first believed after a visit, from its history.
 *
 * @param left Whether the visit left readings or cleans, which the next night reckoned with.
 * @returns Null where no night reckoned before the house was seen again, or soon enough.
 */
export async function comingThen(
  house: House,
  lines: readonly Row[],
  { evidence, cleans }: HouseDays,
  { day, left }: { day: IsoDate; left: boolean },
): Promise<Coming | null> {
  const ids = lines.map((line) => line['id']);
  const until = addDays(day, TOLD_WITHIN_DAYS);
  const kept = await house.stores.rows.all(
    'trend_history',
    [isIn('line_id', ids), { column: 'as_of', is: '<=', value: until }],
    'as_of',
  );
  const again = evidence.find((each) => each > day) ?? until;
  const nights = kept.map((row) => String(row['as_of']));
  const on = left ? nights.find((each) => each > day && each <= again) : addDays(day, 1);
  if (on === undefined) return null;
  // The newest row of each line up to that night: what moves nothing is not kept again.
  const dated = new Map(kept.filter((row) => String(row['as_of']) <= on).map((row) => [row['line_id'], row]));
  return comingOf(lines, { dated, on }, cleans, await ownerSettings(house.stores));
}

/** What a night reckoned, by line. */
interface Reckoned {
  dated: ReadonlyMap<unknown, Row>;
  on: IsoDate;
}

function comingOf(
  lines: readonly Row[],
  { dated, on }: Reckoned,
  cleans: ReadonlyMap<unknown, number>,
  settings: OwnerSettings,
): Coming | null {
  const known = lines.flatMap((line) => {
    const row = dated.get(line['id']);
    return row === undefined ? [] : [{ line, row, dueDay: dayIn(row['due_on']), system: systemOf(line) }];
  });
  if (known.length === 0) return null;
  const named = (line: Row): NamedLine => ({
    kind: line['kind'] as LineKind,
    name: lines.filter(({ kind }) => kind === line['kind']).length > 1 ? String(line['name']) : null,
  });
  const systems = [...new Set(known.map(({ system }) => system))].map((system) =>
    dueDateOfSystem(
      system,
      known
        .filter((each) => each.system === system)
        .map(({ line, row, dueDay }) => ({
          id: String(line['id']),
          dueDay,
          notBeforeDay: row['due_rule'] === 'postponed' ? dueDay : null,
          intervalDays: typeof row['interval_days'] === 'number' ? row['interval_days'] : null,
        })),
    ),
  );
  const visits = siteVisits(systems, settings).flatMap(({ dueDay, systemIds }): ComingVisit[] => {
    const first = known.find((each) => each.dueDay === dueDay && systemIds.includes(each.system));
    if (first === undefined) return [];
    const fillsOn = first.row['action_q50_on'];
    return [
      {
        on: isoDate(dueDay),
        rule: first.row['due_rule'] as DueRule | null,
        line: named(first.line),
        fillsInDays: typeof fillsOn === 'string' ? daysBetween(on, fillsOn) : null,
        cleans: cleans.get(first.line['id']) ?? 0,
      },
    ];
  });
  const declined = known.filter(({ row }) => row['due_rule'] === 'refused').map(({ line }) => named(line));
  return { reckonedOn: on, visits, declined };
}

const dayIn = (on: unknown): number | null => (typeof on === 'string' ? dayNumber(on) : null);

/** A line whose system nobody recorded is come to on its own. */
const systemOf = (line: Row): string => String(line['system_id'] ?? line['id']);
