import { v7 as newId } from 'uuid';
import { addDays, dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { laidDay, startsClean } from '../../domain/work/bookStart.js';
import type { Stores } from '../house.js';
import type { Condition, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';

const dayOrNull = (value: unknown): IsoDate | null =>
  value === null || value === undefined ? null : String(value);

/**
 * Opens the clean epoch of a line that was laid on a day on record, moves it when that day is corrected and takes it
 * back when nobody knows the day any more. One laid long before its first record may have been anything by then: it gets none.
 */
export async function heedLaid(
  stores: Stores,
  lineId: string,
  today: IsoDate,
  laidBefore: unknown = null,
): Promise<void> {
  const laid = await laidOf(stores, lineId);
  const epochs = await epochsOf(stores, lineId);
  const own = epochs.find((epoch) => epoch['because'] === 'installed' && epoch['started_on'] !== laid);
  const first = await firstRecordOn(stores, lineId);
  if (laid === null || !startsClean(dayNumber(laid), dayNumber(first ?? today), 0)) {
    const taken = own !== undefined && own['started_on'] === laidBefore ? own : null;
    if (taken !== null)
      await stores.rows.update('epoch', String(taken['id']), {
        started_on: addDays(first ?? today, -1),
        begins: 'unknown',
        because: 'first_record',
      });
    return;
  }
  const clean = { started_on: laid, begins: 'clean', because: 'installed' };
  const there = epochs.find((epoch) => epoch['started_on'] === laid);
  const moved = own ?? epochs.find((epoch) => epoch['because'] === 'first_record');
  if (there !== undefined) {
    if (there['because'] === 'first_record') await stores.rows.update('epoch', String(there['id']), clean);
  } else if (moved !== undefined) await stores.rows.update('epoch', String(moved['id']), clean);
  else if (epochs.every((epoch) => String(epoch['started_on']) > laid))
    await stores.rows.insert('epoch', { id: newId(), line_id: lineId, ...clean });
}

/**
 * A stretch changed: its own day corrected, or taken out. New pipe in place of a part leaves how the line began as it was;
 * only a corrected day takes it back.
 */
export async function heedLaidSection(stores: Stores, section: Row, today: IsoDate, old: Row): Promise<void> {
  const corrected = section['installed_on'] !== old['installed_on'];
  if (!corrected && section['removed_on'] === old['removed_on']) return;
  await heedLaid(stores, String(section['line_id']), today, corrected ? old['installed_on'] : null);
}

/**
 * A day that a line was laid on lies before all that was found in it. Where another pipe lay there before, that is told
 * by an epoch of its own.
 *
 * @throws {Refused} When something was found before it and no replacement is on record for that day.
 */
export async function refuseLaidMidway(stores: Stores, line: Row, old: Row | null): Promise<void> {
  const laid = dayOrNull(line['installed_on']);
  if (old === null || laid === null || laid === dayOrNull(old['installed_on'])) return;
  const lineId = String(old['id']);
  const epochs = await epochsOf(stores, lineId);
  if (epochs.some((epoch) => epoch['because'] === 'replaced' && epoch['started_on'] === laid)) return;
  const records = await recordsBefore(stores, lineId, laid);
  if (records === 0) return;
  throw ruleBroken(
    'laid-midway',
    '#/installedOn',
    olderThan(records, laid),
    `the day it was first laid; where a new pipe took its place on ${laid}, put that on record first: an epoch of that day, begins clean, because replaced`,
  );
}

/**
 * An epoch that begins as the line was laid goes with the day the line has for that, and nothing older was found in it.
 * The one that this day opened by itself gives way to it.
 *
 * @throws {Refused} When it does not.
 */
export async function heedEpoch(stores: Stores, epoch: Row, old: Row | null): Promise<void> {
  const lineId = String(epoch['line_id']);
  const startedOn = String(epoch['started_on']);
  if (epoch['because'] === 'installed' && old?.['because'] !== 'installed')
    await refuseOther(stores, lineId, startedOn);
  if (old !== null) return;
  const same = (await epochsOf(stores, lineId)).find((each) => each['started_on'] === startedOn);
  if (same?.['because'] === 'installed' && same['begins'] === 'clean' && same['version'] === 1)
    await stores.rows.remove('epoch', String(same['id']));
}

async function refuseOther(stores: Stores, lineId: string, startedOn: IsoDate): Promise<void> {
  const laid = await laidOf(stores, lineId);
  if (laid !== null && laid !== startedOn)
    throw ruleBroken(
      'laid-midway',
      '#/startedOn',
      `this line was laid on ${laid} by its own record`,
      `that day, after correcting installedOn of the line if it is wrong; where a new pipe took its place on ${startedOn}: because replaced`,
    );
  const records = await recordsBefore(stores, lineId, startedOn);
  if (records > 0)
    throw ruleBroken(
      'laid-midway',
      '#/startedOn',
      olderThan(records, startedOn),
      `because replaced, where a new pipe took its place on ${startedOn}; else the day it was first laid`,
    );
}

const olderThan = (records: number, day: IsoDate): string =>
  `${records === 1 ? 'a reading or clean of this line is' : `${records} readings and cleans of this line are`} older than ${day}`;

const ofLine = (lineId: string): Condition => ({ column: 'line_id', is: '=', value: lineId });

const epochsOf = (stores: Stores, lineId: string): Promise<Row[]> =>
  stores.rows.all('epoch', [ofLine(lineId)], 'started_on');

async function laidOf(stores: Stores, lineId: string): Promise<IsoDate | null> {
  const line = await stores.rows.get('line', lineId);
  const sections = await stores.rows.all('line_section', [
    ofLine(lineId),
    { column: 'removed_on', is: 'null' },
  ]);
  return laidDay(
    dayOrNull(line?.['installed_on']),
    sections.map((section) => dayOrNull(section['installed_on'])),
  );
}

const IN_FORCE: readonly Condition[] = [{ column: 'withdrawn_at', is: 'null' }];
const RECORDS = [
  { table: 'inspection', at: 'observed_at', inForce: [...IN_FORCE, { column: 'replaced_at', is: 'null' }] },
  { table: 'clean', at: 'cleaned_at', inForce: IN_FORCE },
] as const satisfies readonly { table: string; at: string; inForce: readonly Condition[] }[];

async function recordsBefore(stores: Stores, lineId: string, day: IsoDate): Promise<number> {
  let records = 0;
  for (const { table, at, inForce } of RECORDS)
    records += await stores.rows.count(table, [
      ofLine(lineId),
      { column: at, is: '<', value: `${day}T00:00:00Z` },
      ...inForce,
    ]);
  return records;
}

/** Day of the first thing found or done in a line; in UTC, near enough for what it decides. */
async function firstRecordOn(stores: Stores, lineId: string): Promise<IsoDate | null> {
  const days: string[] = [];
  for (const { table, at, inForce } of RECORDS) {
    const [first] = await stores.rows.all(table, [ofLine(lineId), ...inForce], at);
    if (first !== undefined) days.push(new Date(String(first[at])).toISOString().slice(0, 10));
  }
  return days.sort()[0] ?? null;
}
