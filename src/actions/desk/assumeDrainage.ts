import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { assumedLines, drainageOf } from '../../domain/work/assumedDrainage.js';
import type { Stores } from '../house.js';

/** Facts nobody has said of a line that such a house usually has. */
const ASSUMED = ['exists', 'kind', 'material', 'bore', 'length', 'outlet'];

/** Lays the lines that a house usually has, all marked as assumed, where nothing is known of a site. */
export async function assumeDrainage(stores: Stores, siteId: string, today: IsoDate): Promise<void> {
  const kinds = assumedLines();
  const plan = drainageOf(kinds.map((kind) => ({ ref: kind, kind, drainsTo: null })));
  const systems = plan.systems.map((system) => ({ ...system, id: newId(), pitId: newId() }));
  for (const { id, pitId, name, kind, assumed } of systems) {
    await stores.rows.insert('system', { id, site_id: siteId, name, kind, assumed });
    if (kind === 'pit')
      await stores.rows.insert('pit', { id: pitId, site_id: siteId, system_id: id, assumed: ['exists'] });
  }
  for (const kind of kinds) {
    const place = plan.lines.get(kind);
    if (!place) throw new RangeError(`no place inferred for a ${kind}`);
    const system = systems[place.system];
    const lineId = newId();
    await stores.rows.insert('line', {
      id: lineId,
      site_id: siteId,
      system_id: system?.id,
      name: `${kind.replaceAll('_', ' ')} (assumed)`,
      kind,
      drains_to: place.drainsTo,
      drains_to_pit_id: place.drainsToPit === null ? null : systems[place.drainsToPit]?.pitId,
      assumed: [...new Set([...ASSUMED, ...place.assumed])],
    });
    await stores.rows.insert('line_section', { id: newId(), line_id: lineId, assumed: ['material', 'bore'] });
    await stores.rows.insert('epoch', {
      id: newId(),
      line_id: lineId,
      started_on: addDays(today, -1),
      begins: 'unknown',
      because: 'first_record',
    });
    if (place.isDischarge)
      await stores.rows.update('pit', system?.pitId ?? '', { discharge_line_id: lineId });
  }
}
