import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

let t: PlannedHouse;
let order: string;
beforeEach(async () => {
  t = await plannedHouse();
  order = await t.order({ north: 8, minutes: 60 });
  expect((await place(order)).status).toBe(200);
}, 60_000);

const place = (workOrderId: string, afterWorkOrderId: string | null = null): Promise<Json> =>
  t.place(workOrderId, { crewId: t.crews.heron, day: FRIDAY, afterWorkOrderId, displaces: [] });
const post = async (url: string, payload: object = {}): Promise<Json> => {
  const { status, body, text } = await t.call('dispatcher', { method: 'POST', url, payload });
  expect(status, text).toBeLessThan(300);
  return body;
};
const heron = async (): Promise<Json> =>
  (await t.call('dispatcher', { method: 'GET', url: `/v1/routes?day=${FRIDAY}&crewId=${t.crews.heron}` }))
    .body.items[0];
const sheetOf = async ({ id }: Json): Promise<string> =>
  (
    await t.call('dispatcher', {
      method: 'GET',
      url: `/v1/routes/${id}/sheet`,
      headers: { accept: 'text/html' },
    })
  ).text;
const codes = (visits: Json[]) =>
  visits.map(({ workOrderId, reasons }) => [workOrderId, reasons.map(({ code }: Json) => code)]);

/** Where it is said once the record is made: in the day, at publication, on the stop and on paper. */
async function saidEverywhere(code: string, words: RegExp): Promise<void> {
  const expected = [[order, [code]]];
  const day = (await t.call('dispatcher', { method: 'GET', url: `/v1/days/${FRIDAY}` })).body;
  expect(codes(day.hinderedVisits)).toEqual(expected);
  const route = await heron();
  expect(codes((await post(`/v1/routes/${route.id}/publication`)).hinderedVisits)).toEqual(expected);
  const [stop] = route.stops.filter(({ workOrder }: Json) => workOrder !== null);
  expect(stop.workOrder.hindrances).toMatchObject([{ code, text: expect.stringMatching(words) }]);
  expect(await sheetOf(route)).toMatch(words);
}

test('rest after a call-out at night: said where it is recorded, on the day, at publication, on the stop and its sheet', async () => {
  const tern = randomUUID();
  const { rows } = t.house.stores;
  await rows.insert('member', { id: tern, name: 'Tern', phone: '555 0170' });
  const membership = { id: randomUUID(), crew_id: t.crews.heron, member_id: tern, from_day: '2026-01-01' };
  await rows.insert('crew_membership', membership);
  t.clock.at = new Date('2026-10-02T08:00:00Z'); // Friday 3:00
  // Back at 2:00; ten hours of rest end at noon.
  const out = await post('/v1/call-outs', {
    memberId: tern,
    calledAt: '2026-10-02T05:00:00Z',
    backAt: '2026-10-02T07:00:00Z',
  });
  expect(codes(out.hinderedVisits)).toEqual([[order, ['crew_rests']]]);
  expect(out.hinderedVisits[0].reasons[0]).toMatchObject({
    facts: { recordIds: [out.id], restsUntil: '2026-10-02T17:00:00.000Z' },
    text: expect.stringMatching(/Heron rests after a call-out until 12:00.*: Tern \(555 0170\)/),
  });
  await saidEverywhere('crew_rests', /Heron rests after a call-out until 12:00/);
}, 60_000);

test('a promise that the route breaks: said where it is made, on the day, at publication, on the stop and its sheet', async () => {
  const promise = { workOrderId: order, day: FRIDAY, toldTo: 'A. Reed', toldHow: 'phone' };
  const made = await post('/v1/promises', { ...promise, fromTime: '14:00', toTime: '16:00' });
  expect(codes(made.hinderedVisits)).toEqual([[order, ['promise_broken']]]);
  expect(made.hinderedVisits[0].reasons[0].text).toMatch(
    /promised Fri\s2\sOct\s2026, 14:00 to 16:00, and Heron comes at \d:\d\d:/,
  );
  await saidEverywhere('promise_broken', /promised Fri\s2\sOct\s2026, 14:00 to 16:00, and Heron comes at/);
}, 60_000);

test('a placement says which promises its route breaks', async () => {
  const long = await t.order({ north: 8, east: 1, minutes: 240 });
  await t.promise(order, FRIDAY, '07:30', '10:00');
  const { status, body } = await place(long);
  expect(status).toBe(200);
  // Four hours before it: nobody is there by ten.
  expect(body.warnings.find(({ code }: Json) => code === 'late_start').text).toMatch(/promise|told/);
  expect(body.toPhone).toMatchObject([
    { workOrderId: order, promised: { from: '07:30', to: '10:00' }, contacts: [{ phone: '555 0100' }] },
  ]);
}, 60_000);
