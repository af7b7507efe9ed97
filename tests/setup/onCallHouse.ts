import { randomUUID } from 'node:crypto';
import { type PlannedHouse, plannedHouse } from './plannedHouse.js';
import type { Json } from './testHouse.js';

/**
 * The planned house on Thursday at 21:00 in Chicago. Shifts are 7:30 to 16:00 from Monday to Friday; of Heron (Tern,
 * Rail) Tern is on call from Thursday's end of shift until Monday's begin.
 */
export interface OnCallHouse extends PlannedHouse {
  tern: string;
  rail: string;
  at(instant: string): void;
  get(url: string): Promise<Json>;
  send(method: 'POST' | 'PATCH', url: string, payload?: object): Promise<Json>;
  /** As `send`, and throws where it is refused. */
  post(url: string, payload?: object): Promise<Json>;
  member(name: string, phone: string, crewId: string): Promise<string>;
  turn(memberId: string, fromAt: string, toAt: string, turn?: number): Promise<Json>;
  /** A call about a house so many hundredths of a degree north of the middle between the depots; the yard lies at 10. */
  phoned(kind?: string, north?: number): Promise<Json>;
  places(orderId: string): Promise<Json>;
  /** Places an order out of the shift, as it was offered. */
  goes(orderId: string, offer: Json, more?: object): Promise<Json>;
  /** Takes a call and the first place on call that is offered for it. */
  sent(kind?: string, north?: number): Promise<{ order: Json; offer: Json; placed: Json }>;
  /** Routes of a day out of the shift. */
  nights(day: string): Promise<Json[]>;
  heronOn(day: string): Promise<Json>;
  /** What a technician's phone does. */
  phone(memberId: string): Promise<(method: 'GET' | 'POST', url: string, payload?: object) => Promise<Json>>;
}

export async function onCallHouse(): Promise<OnCallHouse> {
  const t = await plannedHouse('2026-10-02T02:00:00Z');
  const { rows } = t.house.stores;
  const send: OnCallHouse['send'] = (method, url, payload = {}) =>
    t.call('dispatcher', { method, url, payload });
  const house: OnCallHouse = {
    ...t,
    tern: '',
    rail: '',
    at(instant) {
      t.clock.at = new Date(instant);
    },
    get: async (url) => (await t.call('dispatcher', { method: 'GET', url })).body,
    send,
    async post(url, payload) {
      const { status, body, text } = await send('POST', url, payload);
      if (status >= 300) throw new Error(`${url} ${status}: ${text}`);
      return body;
    },
    async member(name, phone, crewId) {
      const id = randomUUID();
      await rows.insert('member', { id, name, phone });
      await rows.insert('crew_membership', {
        id: randomUUID(),
        crew_id: crewId,
        member_id: id,
        from_day: '2026-01-01',
      });
      return id;
    },
    turn: (memberId, fromAt, toAt, turn = 1) =>
      house.post('/v1/on-call-turns', { memberId, fromAt, toAt, turn }),
    phoned: (kind = 'water_rising', north = 8) =>
      house.post('/v1/calls', {
        kind,
        caller: { name: 'B. Alder', phone: '555 0100' },
        newSite: {
          address: `${north} Reed Row`,
          town: 'Brindle',
          latitude: 44.5 + north / 100,
          longitude: -90.3,
        },
      }),
    places: (orderId) => house.get(`/v1/work-orders/${orderId}/places`),
    goes: (orderId, offer, more = {}) =>
      t.place(orderId, {
        crewId: offer.crewId,
        day: offer.day,
        onCall: true,
        afterWorkOrderId: offer.afterWorkOrderId,
        ...more,
      }),
    async sent(kind, north) {
      const { workOrder: order } = await house.phoned(kind, north);
      const [offer] = (await house.places(order.id)).places;
      if (offer?.onCall !== true) throw new Error('nobody on call is offered first');
      const { status, body, text } = await house.goes(order.id, offer);
      if (status !== 200) throw new Error(text);
      return { order, offer, placed: body };
    },
    nights: async (day) =>
      (await house.get(`/v1/routes?day=${day}`)).items.filter((route: Json) => route.onCall),
    heronOn: async (day) =>
      (await house.get(`/v1/days/${day}`)).crews.find((crew: Json) => crew.crewId === t.crews.heron),
    async phone(memberId) {
      const { body } = await t.call('owner', {
        method: 'POST',
        url: '/v1/keys',
        payload: { name: 'phone', roles: ['technician'], memberId },
      });
      return async (method, url, payload) => {
        const answer = await t.app.inject({
          method,
          url,
          headers: { authorization: `Bearer ${String(body.key)}` },
          ...(payload === undefined ? {} : { payload }),
        });
        return { status: answer.statusCode, body: answer.json() };
      };
    },
  };
  house.tern = await house.member('Tern', '555 0170', t.crews.heron);
  house.rail = await house.member('Rail', '555 0171', t.crews.heron);
  await house.turn(house.tern, '2026-10-01T21:00:00Z', '2026-10-05T12:30:00Z');
  return house;
}
