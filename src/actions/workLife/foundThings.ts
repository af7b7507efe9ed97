import { v7 as newId } from 'uuid';
import type { DrainsTo, KitKind, LineKind, Outlet } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { mayWorkOnOrder } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

/** A line nobody knew of, found on a visit. */
export interface FoundLine {
  id: string;
  workOrderId: string;
  foundAt: string;
  /** Null: it has an outlet of its own, and is a system by itself. */
  systemId: string | null;
  name: string;
  kind: LineKind;
  drainsTo: DrainsTo;
  drainsToPitId: string | null;
  drainsToLineId: string | null;
  outlet: Outlet;
  lengthM: number | null;
  note: string | null;
}

export interface FoundAccessPoint {
  id: string;
  workOrderId: string;
  foundAt: string;
  lineId: string | null;
  pitId: string | null;
  kind: string;
  place: string;
  distanceM: number | null;
  distanceFrom: string | null;
  kitCanEnter: readonly KitKind[];
  direction: string;
  note: string | null;
}

/** Puts a line on record, unconfirmed until the office looked at it; it is dated and worked on like any other. */
export async function addFoundLine(
  house: House,
  stores: Stores,
  actor: Actor,
  found: FoundLine,
): Promise<Row> {
  const siteId = await siteOfVisit(house, stores, actor, found);
  const systemId = found.systemId ?? newId();
  if (found.systemId === null) {
    if (found.drainsTo === 'pit' || found.drainsTo === 'line')
      throw ruleBroken('found-line', '#/systemId', 'is missing', 'the system of what the line drains to');
    await stores.rows.insert('system', { id: systemId, site_id: siteId, name: found.name, kind: 'gravity' });
  }
  return stores.rows.insert('line', {
    id: found.id,
    site_id: siteId,
    system_id: systemId,
    name: found.name,
    kind: found.kind,
    drains_to: found.drainsTo,
    drains_to_pit_id: found.drainsToPitId,
    drains_to_line_id: found.drainsToLineId,
    outlet: found.outlet,
    length_m: found.lengthM,
    note: found.note,
    unconfirmed: true,
    added_by: actor.name,
  });
}

/** Puts on record where one can get in or look, unconfirmed until the office looked at it. */
export async function addFoundAccessPoint(
  house: House,
  stores: Stores,
  actor: Actor,
  found: FoundAccessPoint,
): Promise<Row> {
  const siteId = await siteOfVisit(house, stores, actor, found);
  for (const [table, id] of [
    ['line', found.lineId],
    ['pit', found.pitId],
  ] as const) {
    const thing = id === null ? null : await stores.rows.get(table, id);
    if (id !== null && thing?.['site_id'] !== siteId)
      throw ruleBroken('things-of-the-site', `#/${table}Id`, 'is not on this site', `a ${table} of the site`);
  }
  return stores.rows.insert('access_point', {
    id: found.id,
    site_id: siteId,
    line_id: found.lineId,
    pit_id: found.pitId,
    kind: found.kind,
    place: found.place,
    distance_m: found.distanceM,
    distance_from: found.distanceFrom,
    kit_can_enter: found.kitCanEnter,
    direction: found.direction,
    note: found.note,
    unconfirmed: true,
    added_by: actor.name,
  });
}

async function siteOfVisit(
  house: House,
  stores: Stores,
  actor: Actor,
  found: { workOrderId: string; foundAt: string },
): Promise<string> {
  const order = await stores.rows.get('work_order', found.workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: found.workOrderId });
  await mayWorkOnOrder(house, stores, actor, order, found.foundAt);
  if (liesAhead(house, found.foundAt))
    throw ruleBroken('found', '#/foundAt', `${found.foundAt} lies in the future`, 'the moment it was found');
  return String(order['site_id']);
}
