import type { Chance } from './chance.js';
import type { Place } from './ground.js';

const KEPT = 200;

/** Lists whose records a field of this name means. */
const MEANS: Record<string, string> = {
  siteId: 'sites',
  lineId: 'lines',
  lineIds: 'lines',
  dischargeLineId: 'lines',
  drainsToLineId: 'lines',
  pitId: 'pits',
  drainsToPitId: 'pits',
  systemId: 'systems',
  clientId: 'clients',
  contactId: 'contacts',
  keepContactIds: 'contacts',
  crewId: 'crews',
  memberId: 'members',
  depotId: 'depots',
  endDepotId: 'depots',
  kitItemId: 'kit-items',
  ruleId: 'locate-rules',
  workOrderId: 'work-orders',
  taskId: 'work-order-tasks',
  routeId: 'routes',
  planId: 'plans',
  inspectionId: 'inspections',
  eventId: 'events',
  endpointId: 'webhook-endpoints',
  keyId: 'keys',
  absenceId: 'absences',
  closedSeasonId: 'closed-seasons',
  careTermsId: 'care-terms',
};

/** Ids of records that were made or seen, by the list they stand in, youngest kept. */
export class Pool {
  private readonly lists = new Map<string, string[]>();

  private readonly chance: Chance;

  constructor(chance: Chance) {
    this.chance = chance;
  }

  add(list: string, id: string): void {
    const ids = this.lists.get(list) ?? [];
    if (ids.includes(id)) return;
    ids.push(id);
    if (ids.length > KEPT) ids.splice(this.chance.whole(0, KEPT - 1), 1);
    this.lists.set(list, ids);
  }

  any(list: string): string | undefined {
    const ids = this.lists.get(list);
    return ids?.length ? this.chance.of(ids) : undefined;
  }

  /** A field's record: the place's own where it has one, so that what is said of a house hangs together. */
  meant(field: string, place: Place): string | undefined {
    const own: Record<string, string> = {
      ...place,
      lineIds: place.lineId,
      dischargeLineId: place.lineId,
      drainsToPitId: place.pitId,
      keepContactIds: place.contactId,
    };
    const list = MEANS[field];
    return own[field] ?? (list === undefined ? undefined : this.any(list));
  }
}

/** `/v1/work-orders/{id}/start` → `work-orders`. */
export const listOf = (path: string): string => /^\/v1\/([a-z-]+)/.exec(path)?.[1] ?? '';
