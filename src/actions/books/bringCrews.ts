import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { CrewRow } from '../clientBase.js';
import type { Stores } from '../house.js';

const ALWAYS: IsoDate = '2000-01-01';

export interface BroughtCrews {
  /** Id of every crew by its id in the books. */
  crewIds: Map<string, string>;
  crews: number;
  alreadyThere: number;
}

/** Crews with their depots, kit and weekly shifts. */
export async function bringCrews(
  stores: Stores,
  crews: readonly CrewRow[],
  source: string,
): Promise<BroughtCrews> {
  const crewIds = await stores.imports.known('crew', source);
  const fresh = crews.filter(({ crewId }) => !crewIds.has(crewId));
  const depots = new Map(
    (await stores.rows.all('depot', [])).map((row) => [String(row['name']), String(row['id'])]),
  );
  for (const crew of fresh) {
    const depotId = depots.get(crew.depot) ?? (await addDepot(stores, crew));
    depots.set(crew.depot, depotId);
    crewIds.set(crew.crewId, await addCrew(stores, crew, depotId, source));
  }
  return { crewIds, crews: fresh.length, alreadyThere: crews.length - fresh.length };
}

async function addDepot(stores: Stores, crew: CrewRow): Promise<string> {
  const id = newId();
  await stores.rows.insert('depot', {
    id,
    name: crew.depot,
    latitude: crew.depotLatitude,
    longitude: crew.depotLongitude,
  });
  return id;
}

async function addCrew(stores: Stores, crew: CrewRow, depotId: string, source: string): Promise<string> {
  const id = newId();
  await stores.rows.insert('crew', {
    id,
    name: crew.name,
    depot_id: depotId,
    people: crew.people,
    source,
    external_ref: crew.crewId,
  });
  for (const kind of crew.kit) {
    const kitId = newId();
    await stores.rows.insert('kit_item', {
      id: kitId,
      name: `${crew.name}: ${kind.replaceAll('_', ' ')}`,
      kind,
      depot_id: depotId,
      source,
      external_ref: `${crew.crewId}:${kind}`,
    });
    await stores.rows.insert('crew_kit', {
      id: newId(),
      crew_id: id,
      kit_item_id: kitId,
      from_day: ALWAYS,
    });
  }
  for (const weekday of crew.weekdays) {
    await stores.rows.insert('shift', {
      id: newId(),
      crew_id: id,
      weekday,
      starts_at: crew.shiftStart,
      ends_at: crew.shiftEnd,
      break_after: crew.breakAfter,
      break_minutes: crew.breakMinutes,
      from_day: ALWAYS,
    });
  }
  return id;
}
