import { randomUUID } from 'node:crypto';
import type { LineKind, TaskKind } from '../../src/domain/words.js';
import { type Json, type TestHouse, testHouse } from './testHouse.js';

/** Two depots, three crews and orders on a grid of houses, for tests of plans. Thursday 1 October 2026, 7:00. */
export interface PlannedHouse extends TestHouse {
  depots: { north: string; south: string };
  crews: { heron: string; plover: string; curlew: string };
  order(more?: OrderMore): Promise<string>;
  promise(workOrderId: string, day: string, from?: string, to?: string): Promise<void>;
  /** Asks for a plan, has it searched, and answers with it. */
  plan(ask?: object): Promise<Json>;
  accept(planId: string): Promise<Json>;
  /** Places an order by hand, from the version it is at now unless another is given. */
  place(workOrderId: string, placing: object, version?: number): Promise<Json>;
  live(day: string): Promise<{ crewId: string; workOrderId: string }[]>;
}

interface OrderMore {
  east?: number;
  north?: number;
  minutes?: number;
  kit?: string[];
  people?: number;
  task?: TaskKind;
  lineKind?: LineKind;
  row?: object;
  hours?: object[];
}

export const THURSDAY = '2026-10-01';
export const FRIDAY = '2026-10-02';

export async function plannedHouse(now = '2026-10-01T12:00:00Z'): Promise<PlannedHouse> {
  const t = await testHouse(now);
  const { rows } = t.house.stores;
  const depots = { north: randomUUID(), south: randomUUID() };
  const crews = { heron: randomUUID(), plover: randomUUID(), curlew: randomUUID() };
  await rows.insert('depot', { id: depots.north, name: 'North yard', latitude: 44.6, longitude: -90.3 });
  await rows.insert('depot', { id: depots.south, name: 'South yard', latitude: 44.4, longitude: -90.3 });
  const crew = async (id: string, name: string, depotId: string, people: number, kit: string[]) => {
    await rows.insert('crew', { id, name, depot_id: depotId, people });
    for (const weekday of ['mon', 'tue', 'wed', 'thu', 'fri'])
      await rows.insert('shift', {
        id: randomUUID(),
        crew_id: id,
        weekday,
        starts_at: '07:30',
        ends_at: '16:00',
        break_after: '12:00',
        break_minutes: 30,
        from_day: '2026-01-01',
      });
    for (const kind of kit) {
      const item = randomUUID();
      await rows.insert('kit_item', { id: item, name: `${name}'s ${kind}`, kind });
      await rows.insert('crew_kit', {
        id: randomUUID(),
        crew_id: id,
        kit_item_id: item,
        from_day: '2026-01-01',
      });
    }
  };
  await crew(crews.heron, 'Heron', depots.north, 2, ['jetter', 'camera']);
  await crew(crews.plover, 'Plover', depots.north, 2, ['jetter']);
  await crew(crews.curlew, 'Curlew', depots.south, 3, ['jetter', 'excavator']);

  return {
    ...t,
    depots,
    crews,
    async order(more = {}) {
      const [site, system, line, order] = [randomUUID(), randomUUID(), randomUUID(), randomUUID()];
      await rows.insert('site', {
        id: site,
        address: `${more.east ?? 0} Marsh Gate`,
        town: 'Brindle',
        area: 'Brindle',
        latitude: 44.5 + (more.north ?? 0) / 100,
        longitude: -90.3 + (more.east ?? 0) / 100,
        hours: JSON.stringify(more.hours ?? []),
      });
      await rows.insert('contact', {
        id: randomUUID(),
        site_id: site,
        name: 'A. Reed',
        role: 'occupant',
        phone: '555 0100',
      });
      await rows.insert('system', { id: system, site_id: site, name: 'Yard', kind: 'gravity' });
      await rows.insert('line', {
        id: line,
        site_id: site,
        system_id: system,
        name: 'Drain',
        kind: more.lineKind ?? 'yard_drain',
      });
      await rows.insert('work_order', {
        id: order,
        site_id: site,
        cause: 'due',
        kit: more.kit ?? [],
        people: more.people ?? 1,
        minutes: more.minutes ?? 60,
        wanted_by: THURSDAY,
        ...more.row,
      });
      await rows.insert('work_order_task', {
        id: randomUUID(),
        work_order_id: order,
        position: 1,
        kind: more.task ?? 'jet',
        line_id: line,
        minutes: more.minutes ?? 60,
      });
      return order;
    },
    async promise(workOrderId, day, from, to) {
      await rows.insert('promise', {
        id: randomUUID(),
        work_order_id: workOrderId,
        day,
        from_time: from ?? null,
        to_time: to ?? null,
      });
    },
    async plan(ask = {}) {
      const asked = await t.call('dispatcher', { method: 'POST', url: '/v1/plans', payload: ask });
      if (asked.status !== 202) throw new Error(asked.text);
      await t.work();
      return (await t.call('dispatcher', { method: 'GET', url: `/v1/plans/${asked.body.id}` })).body;
    },
    accept: (planId) => t.call('dispatcher', { method: 'POST', url: `/v1/plans/${planId}/acceptance` }),
    async place(workOrderId, placing, version) {
      const at = version ?? (await rows.get('work_order', workOrderId))?.['version'];
      return t.call('dispatcher', {
        method: 'POST',
        url: `/v1/work-orders/${workOrderId}/placement`,
        headers: { 'if-match': `"${String(at)}"` },
        payload: placing,
      });
    },
    async live(day) {
      const { rows: stops } = await t.pool.query(
        `SELECT r.crew_id, s.work_order_id FROM stop s JOIN route r ON r.id = s.route_id
          WHERE r.state = 'live' AND r.day = $1 AND s.live ORDER BY r.crew_id, s.position`,
        [day],
      );
      return stops.map((row) => ({
        crewId: String(row['crew_id']),
        workOrderId: String(row['work_order_id']),
      }));
    },
  };
}
