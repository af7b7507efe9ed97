import { randomUUID } from 'node:crypto';
import { type Json, type TestHouse, testHouse } from './testHouse.js';

/** One site with a line, as tests of what may be done there need it. */
export interface TestPlace {
  siteId: string;
  systemId: string;
  lineId: string;
  pitId: string;
}

/** A technician of one crew with a live route to one site, and another site that is on no route of theirs. */
export interface RoutedHouse extends TestHouse {
  own: TestPlace;
  foreign: TestPlace;
  /** The order on the route. */
  orderId: string;
  foreignOrderId: string;
  routeId: string;
  memberId: string;
  /** A bearer text of the technician; each call makes another key of the same person. */
  keyOf(name: string, memberId?: string): Promise<string>;
  as(
    key: string,
    method: 'GET' | 'POST',
    url: string,
    payload?: object,
  ): Promise<{ status: number; body: Json }>;
}

export async function routedHouse(day = '2026-10-01', now = `${day}T12:00:00Z`): Promise<RoutedHouse> {
  const t = await testHouse(now);
  const { rows } = t.house.stores;
  const place = async (address: string): Promise<TestPlace> => {
    const [siteId, systemId, lineId, pitId] = [randomUUID(), randomUUID(), randomUUID(), randomUUID()];
    await rows.insert('site', { id: siteId, address, town: 'Brindle', area: 'Brindle' });
    await rows.insert('system', { id: systemId, site_id: siteId, name: 'Pit', kind: 'pit' });
    await rows.insert('pit', { id: pitId, site_id: siteId, system_id: systemId });
    await rows.insert('line', {
      id: lineId,
      site_id: siteId,
      system_id: systemId,
      name: 'Drain',
      kind: 'footing_drain',
      length_m: 30,
    });
    return { siteId, systemId, lineId, pitId };
  };
  const [own, foreign] = [await place('1 Marsh Gate'), await place('2 Marsh Gate')];
  const order = async (siteId: string): Promise<string> => {
    const id = randomUUID();
    await rows.insert('work_order', { id, site_id: siteId, cause: 'due', minutes: 60, state: 'placed' });
    return id;
  };
  const [orderId, foreignOrderId] = [await order(own.siteId), await order(foreign.siteId)];
  const [depotId, crewId, memberId, planId, routeId] = Array.from({ length: 5 }, () => randomUUID()) as [
    string,
    string,
    string,
    string,
    string,
  ];
  await rows.insert('depot', { id: depotId, name: 'Yard', latitude: 44, longitude: -90 });
  await rows.insert('crew', { id: crewId, name: 'Heron', depot_id: depotId, people: 2 });
  await rows.insert('member', { id: memberId, name: 'Tern' });
  await rows.insert('crew_membership', {
    id: randomUUID(),
    crew_id: crewId,
    member_id: memberId,
    from_day: '2026-01-01',
  });
  await rows.insert('plan', {
    id: planId,
    state: 'accepted',
    from_day: day,
    to_day: day,
    because: 'test',
    asked_by: 'test',
    seed: 1,
    search_seconds: 1,
  });
  await rows.insert('route', { id: routeId, plan_id: planId, crew_id: crewId, day, state: 'live' });
  await rows.insert('stop', {
    id: randomUUID(),
    route_id: routeId,
    position: 1,
    travel_s: 0,
    travel_m: 0,
    kind: 'visit',
    work_order_id: orderId,
    arrives_at: `${day}T14:00:00Z`,
    starts_at: `${day}T14:00:00Z`,
    ends_at: `${day}T15:00:00Z`,
    live: true,
  });
  return {
    ...t,
    own,
    foreign,
    orderId,
    foreignOrderId,
    routeId,
    memberId,
    async keyOf(name, member = memberId) {
      const { body } = await t.call('owner', {
        method: 'POST',
        url: '/v1/keys',
        payload: { name, roles: ['technician'], memberId: member },
      });
      return String(body.key);
    },
    async as(key, method, url, payload) {
      const answer = await t.app.inject({
        method,
        url,
        headers: { authorization: `Bearer ${key}` },
        ...(payload === undefined ? {} : { payload }),
      });
      return { status: answer.statusCode, body: answer.body === '' ? null : answer.json() };
    },
  };
}
