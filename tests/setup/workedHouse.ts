import { expect } from 'vitest';
import { type Json, type TestHouse, testHouse } from './testHouse.js';

/** A house with a pit, its discharge and a footing drain that runs into it. */
export interface PitHouse {
  site: Json;
  system: Json;
  pit: Json;
  discharge: Json;
  footing: Json;
}

/** A locate rule: 48 hours from the call, good for two weeks, confirmed. */
export const TWO_DAYS_NOTICE = {
  notice: 48,
  noticeUnit: 'hour',
  callDayCounts: true,
  life: 14,
  lifeUnit: 'calendar_day',
  source: 'test',
  confirmedBy: 'Owner',
  confirmedOn: '2026-06-01',
};

/** The service with what an office and a crew ask of it, in few words; the clock goes with what is told. */
export interface WorkedHouse extends TestHouse {
  get(url: string): Promise<Json>;
  send(url: string, payload: object, status?: number): Promise<Json>;
  at(instant: string): string;
  build(more?: { site?: object; pit?: object }): Promise<PitHouse>;
  order(house: PitHouse, tasks: object[], more?: object): Promise<Json>;
  begin(order: Json, startedAt: string, status?: number): Promise<Json>;
  finish(order: Json, endedAt: string, more?: object, status?: number): Promise<Json>;
  whole(order: Json): Promise<Json>;
  /** Orders of a house that are still ahead, by number, with tasks. */
  ahead(house: PitHouse): Promise<Json[]>;
  /** Meets what is open and can be met by hand. */
  meet(order: Json): Promise<void>;
  /** All a dig waits for: by hand, where its water goes, a ticket called on 1 June 2026 that is good from the 4th. */
  mayDig(order: Json): Promise<void>;
}

export const m = (value: number) => ({ value, unit: 'm' });
export const RESTORED = { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true };
export const kindsOf = (order: Json): string[] => order.tasks.map((task: Json) => task.kind);

const FACTS: Record<string, object> = {
  consent: { by: 'A. Sedge', at: '2026-06-01T12:00:00Z' },
  quote_accepted: {
    lines: 'all',
    notToExceedMinor: 900_000,
    acceptedBy: 'A. Sedge',
    acceptedAt: '2026-06-01T12:00:00Z',
  },
  parts: { pipe: 'on the truck' },
};

export async function workedHouse(now: string): Promise<WorkedHouse> {
  const t = await testHouse(now);
  const ask = async (method: 'GET' | 'POST' | 'PATCH', url: string, payload?: object, status = 200) => {
    const headers = method === 'PATCH' ? { 'if-match': '*' } : {};
    const answer = await t.call('owner', { method, url, ...(payload ? { payload } : {}), headers });
    expect(answer.status, `${method} ${url} ${answer.text}`).toBe(status);
    return answer.body;
  };
  const get = (url: string) => ask('GET', url);
  const send = (url: string, payload: object, status = 201) => ask('POST', url, payload, status);
  const at = (instant: string) => {
    t.clock.at = new Date(instant);
    return instant;
  };
  const whole = (order: Json) => get(`/v1/work-orders/${order.id}`);
  let built = 0;
  async function meet(order: Json): Promise<void> {
    for (const { id, kind, state } of (await whole(order)).waitsFor)
      if (state === 'open' && FACTS[kind])
        await ask('PATCH', `/v1/preconditions/${id}`, { state: 'met', facts: FACTS[kind] });
  }
  return {
    meet,
    async mayDig(order) {
      await meet(order);
      await send(`/v1/work-orders/${order.id}/discharge-plan`, { receiver: 'caught', sludgeTo: 'depot' });
      const rule = await send('/v1/locate-rules', {
        name: `Hours ${order.number}`,
        ...TWO_DAYS_NOTICE,
      });
      const ticket = await send(`/v1/work-orders/${order.id}/locate-tickets`, {
        ruleId: rule.id,
        calledAt: at('2026-06-01T13:00:00Z'),
        utilities: ['gas'],
      });
      at('2026-06-04T12:00:00Z');
      await send(
        `/v1/locate-tickets/${ticket.id}/news`,
        {
          answers: [{ utility: 'gas', answer: 'clear', at: '2026-06-02T13:00:00Z' }],
          privateLinesLocatedAt: '2026-06-03T13:30:00Z',
        },
        200,
      );
    },
    ...t,
    get,
    send,
    at,
    whole,
    async build(more = {}) {
      const site = await send('/v1/sites', {
        address: `${++built} Sluice Row`,
        town: 'Brindle',
        basement: 'finished',
        ...more.site,
      });
      const system = await send('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
      const of = { siteId: site.id, systemId: system.id, length: m(18) };
      const discharge = await send('/v1/lines', {
        ...of,
        name: 'Discharge',
        kind: 'sump_discharge',
        outlet: 'daylight',
      });
      const pit = await send('/v1/pits', {
        siteId: site.id,
        systemId: system.id,
        dischargeLineId: discharge.id,
        inflow: { value: 4, unit: 'gpm' },
        ...more.pit,
      });
      const footing = await send('/v1/lines', {
        ...of,
        name: 'Footing',
        kind: 'footing_drain',
        drainsTo: 'pit',
        drainsToPitId: pit.id,
      });
      await send('/v1/line-sections', {
        lineId: footing.id,
        material: 'corrugated_hdpe',
        bore: { value: 4, unit: 'in' },
        installedOn: '1990-05-01',
      });
      return { site, system, pit, discharge, footing };
    },
    order: (house, tasks, more = {}) =>
      send('/v1/work-orders', { siteId: house.site.id, because: 'asked for', tasks, ...more }),
    begin: (order, startedAt, status = 200) =>
      send(`/v1/work-orders/${order.id}/start`, { startedAt: at(startedAt), cautionsSeen: true }, status),
    finish: (order, endedAt, more = {}, status = 200) =>
      send(
        `/v1/work-orders/${order.id}/finish`,
        {
          endedAt: at(endedAt),
          result: 'done',
          flowProven: 'yes',
          pumpRestored: RESTORED,
          water: { receiver: 'caught', sludgeTo: 'depot' },
          ...more,
        },
        status,
      ),
    async ahead(house) {
      const { items } = await get(`/v1/work-orders?siteId=${house.site.id}&sort=number`);
      return Promise.all(
        items.filter((order: Json) => ['wanted', 'placed'].includes(order.state)).map(whole),
      );
    },
  };
}
