import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { DischargeLogData } from '../../papers/dischargeLog.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { waterOf } from './clientRecords.js';
import { letterhead } from './letterhead.js';

const DAY_SECONDS = 86_400;

/** The water log of a period, both days included, as the authority gets it. */
export async function dischargeLogOf(
  house: House,
  from: IsoDate,
  to: IsoDate,
  units: UnitSystem,
): Promise<DischargeLogData> {
  const rows = await house.stores.workLife.waterLog(
    house.zone.instantOf(from, 0).toISOString(),
    house.zone.instantOf(to, DAY_SECONDS).toISOString(),
  );
  return {
    ...(await letterhead(house.stores)),
    printedOn: house.zone.dayOf(house.clock.now()),
    units,
    from,
    to,
    entries: rows.map((row) => {
      const at = new Date(String(row['at']));
      const day = house.zone.dayOf(at);
      return {
        day,
        seconds: Math.round((at.getTime() - house.zone.instantOf(day, 0).getTime()) / 1000),
        orderNumber: Number(row['number']),
        address: `${String(row['address'])}, ${String(row['town'])}`,
        ...waterOf({
          ...row,
          water_l: row['water_l'] ?? row['planned_water_l'],
          sludge_l: row['sludge_l'] ?? row['planned_sludge_l'],
        }),
        isPlanned: { water: isPlanned(row, 'water'), sludge: isPlanned(row, 'sludge') },
        depot: row['depot'] as string | null,
        author: String(row['author']),
      };
    }),
  };
}

const isPlanned = (row: Row, what: 'water' | 'sludge'): boolean =>
  row[`${what}_l`] === null && row[`planned_${what}_l`] !== null;
