import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { RegimeCause } from '../../domain/words.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/** Writes a known change of how a line fouls, once a day and cause. */
export async function openRegime(
  stores: Stores,
  lineId: string,
  day: IsoDate,
  cause: RegimeCause,
  note: string,
): Promise<void> {
  const same = await stores.rows.count('regime_change', [
    { column: 'line_id', is: '=', value: lineId },
    { column: 'changed_on', is: '=', value: day },
    { column: 'cause', is: '=', value: cause },
  ]);
  if (same > 0) return;
  await stores.rows.insert('regime_change', { id: newId(), line_id: lineId, changed_on: day, cause, note });
}

/**
 * A main pump put in after something was found or cleaned on its discharge changes how that line fouls, from the day
 * it was put in. One that was there before the books is no change.
 */
export async function tellOfPump(stores: Stores, pump: Row, dischargeId: string): Promise<void> {
  const note = `pump ${String(pump['id'])}`;
  const day = pump['duty'] === 'main' && pump['installed_on'] !== null ? String(pump['installed_on']) : null;
  const told = await stores.rows.all('regime_change', [
    { column: 'line_id', is: '=', value: dischargeId },
    { column: 'cause', is: '=', value: 'new_pump' },
    { column: 'note', is: '=', value: note },
  ]);
  for (const row of told)
    if (row['changed_on'] !== day) await stores.rows.remove('regime_change', String(row['id']));
  if (day !== null && (await hasPastBefore(stores, dischargeId, day)))
    await openRegime(stores, dischargeId, day, 'new_pump', note);
}

async function hasPastBefore(stores: Stores, lineId: string, day: IsoDate): Promise<boolean> {
  const before = (table: string, at: string) =>
    stores.rows.count(table, [
      { column: 'line_id', is: '=', value: lineId },
      { column: at, is: '<', value: `${day}T00:00:00Z` },
      { column: 'withdrawn_at', is: 'null' },
    ]);
  return (await before('inspection', 'observed_at')) + (await before('clean', 'cleaned_at')) > 0;
}
