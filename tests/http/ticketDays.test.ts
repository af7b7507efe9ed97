import { randomUUID } from 'node:crypto';
import { beforeEach, expect, test } from 'vitest';
import { weekdayText } from '../../src/domain/calendar/saidDay.js';
import { readXml } from '../papers/readSvg.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

/** A dig stands on routes from the hour of its ticket on, and is named where it stands outside. */
let t: PlannedHouse;
let dig: string;
const MONDAY = '2026-10-05';

async function call(method: 'GET' | 'POST', url: string, payload?: object, status = 200): Promise<Json> {
  const answer = await t.call('owner', { method, url, ...(payload ? { payload } : {}) });
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}
const ticketOf = async (rule: object, calledAt: string, number: string): Promise<Json> => {
  const { id: ruleId } = await call(
    'POST',
    '/v1/locate-rules',
    {
      name: `Rule of ${number}`,
      noticeUnit: 'hour',
      callDayCounts: true,
      source: 'test',
      confirmedBy: 'Owner',
      confirmedOn: '2026-09-01',
      ...rule,
    },
    201,
  );
  const ticket = { ruleId, number, calledAt, utilities: ['Gas'] };
  return call('POST', `/v1/work-orders/${dig}/locate-tickets`, ticket, 201);
};
const answered = ({ id }: Json, at: string) =>
  call('POST', `/v1/locate-tickets/${id}/news`, {
    answers: [{ utility: 'Gas', answer: 'clear', at }],
    privateLinesLocatedAt: at,
  });
const heron = async (): Promise<Json> =>
  (await call('GET', `/v1/routes?day=${THURSDAY}&crewId=${t.crews.heron}`)).items[0];
const stopOf = (route: Json): Json => route.stops.find(({ workOrder }: Json) => workOrder?.id === dig);
const named = (hindered: Json[]) =>
  hindered.map(({ workOrderId, reasons }) => [workOrderId, reasons.map(({ text }: Json) => text)]);

beforeEach(async () => {
  t = await plannedHouse();
  dig = await t.order({ minutes: 30, task: 'replace_outlet', row: { lock_crew_id: t.crews.heron } });
  await t.house.stores.rows.insert('precondition', {
    id: randomUUID(),
    work_order_id: dig,
    kind: 'locate_ticket',
  });
  const hours = { notice: 24, life: 14, lifeUnit: 'calendar_day', handDig: { value: 48, unit: 'in' } };
  // Called on Wednesday at 14:30 local: good from Thursday 14:30 on
  const ticket = await ticketOf(hours, '2026-09-30T19:30:00Z', 'T-hours');
  expect([ticket.digFrom, ticket.firstDay]).toEqual(['2026-10-01T19:30:00.000Z', THURSDAY]);
  expect((await answered(ticket, '2026-09-30T21:00:00Z')).open).toEqual([]);
}, 60_000);

test('days offered, a place by hand and a plan begin at the hour of the ticket', async () => {
  const [thursday, friday] = (await call('GET', `/v1/work-orders/${dig}/days`)).days;
  expect(thursday.day).toBe(THURSDAY);
  expect(thursday.place.startsAt >= '2026-10-01T19:30:00.000Z').toBe(true);
  expect(friday.place.startsAt < '2026-10-02T14:00:00.000Z').toBe(true);
  const placed = await t.place(dig, { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null });
  expect(placed.status, placed.text).toBe(200);
  expect(Date.parse(stopOf(await heron()).startsAt)).toBeGreaterThanOrEqual(
    Date.parse('2026-10-01T19:30:00Z'),
  );
  expect(stopOf(await heron()).workOrder.hindrances).toEqual([]);
  const plan = await t.plan({ fromDay: THURSDAY, workingDays: 1 });
  expect((await t.accept(plan.id)).status).toBe(200);
  expect(Date.parse(stopOf(await heron()).startsAt)).toBeGreaterThanOrEqual(
    Date.parse('2026-10-01T19:30:00Z'),
  );
});

test('a house that shuts before the hour of the ticket is not open to the dig that day', async () => {
  await t.pool.query('UPDATE site SET hours = $1', [
    JSON.stringify([{ weekday: 'thu', from: '08:00', to: '12:00' }]),
  ]);
  await t.plan({ fromDay: THURSDAY, workingDays: 1 }).then((plan) => t.accept(plan.id));
  expect(await t.live(THURSDAY)).toEqual([]);
  const { places, nowhere } = await call('GET', `/v1/work-orders/${dig}/places?days=1`);
  expect(places).toEqual([]);
  expect(nowhere.text).toContain('its locate ticket begins on 2026-10-01 after the house shuts');
});

test('a dig whose ticket moved is named in the answer, the day, the route, its sheet and at publication', async () => {
  const placing = { crewId: t.crews.heron, day: THURSDAY, afterWorkOrderId: null };
  expect((await t.place(dig, placing)).status).toBe(200);
  const route = await heron();
  expect(stopOf(route).workOrder.locateTicket).toMatchObject({
    number: 'T-hours',
    digFrom: '2026-10-01T19:30:00.000Z',
    lastDay: '2026-10-14',
    handDigAssumed: false,
    open: null,
  });
  const sheet = async () => {
    const headers = { accept: 'text/html' };
    const { text } = await t.call('owner', { method: 'GET', url: `/v1/routes/${route.id}/sheet`, headers });
    return readXml(text.replace('<!DOCTYPE html>\n', '').trimEnd())
      .text.replaceAll(/[\u00A0\u202F]/g, ' ')
      .replaceAll(/[\u2068\u2069]/g, '');
  };
  expect(await sheet()).toMatch(
    /Locate ticket T-hours: dig from 14:30 on 1 Oct 2026, last day 14 Oct 2026\. By hand within 48 in \(1\.22 m\) of a mark\. Gas: clear\./,
  );

  const later = await ticketOf({ notice: 96 }, '2026-10-01T11:00:00Z', 'T-later');
  expect(later.firstDay).toBe(MONDAY);
  const open = 'its locate ticket T-later is open: Gas has not answered; private lines were not located';
  const outside = `its locate ticket T-later is good from ${weekdayText(MONDAY)} on`;
  expect(named(later.hinderedVisits)).toEqual([[dig, [open, outside]]]);
  const news = await answered(later, '2026-10-01T11:30:00Z');
  expect([news.open, named(news.hinderedVisits)]).toEqual([[], [[dig, [outside]]]]);
  expect(named((await call('GET', `/v1/days/${THURSDAY}`)).hinderedVisits)).toEqual([[dig, [outside]]]);
  const now = await heron();
  expect(stopOf(now).workOrder.hindrances.map(({ code }: Json) => code)).toEqual(['outside_ticket']);
  expect(now.warnings.map(({ text }: Json) => text).join()).toContain(outside);
  expect(await sheet()).toContain(`Cannot be done as planned: ${outside.replaceAll('\u00A0', ' ')}`);
  const told = await call('POST', `/v1/routes/${route.id}/publication`);
  expect(named(told.hinderedVisits)).toEqual([[dig, [outside]]]);
  const day = await call('POST', `/v1/days/${THURSDAY}/publication`);
  expect(named(day.hinderedVisits)).toEqual([[dig, [outside]]]);
  // Nothing else of that day is named; a place inside the ticket settles it.
  expect((await call('POST', `/v1/days/${FRIDAY}/publication`)).hinderedVisits).toEqual([]);
  expect((await t.place(dig, { ...placing, day: MONDAY })).status).toBe(200);
  expect((await call('GET', `/v1/days/${MONDAY}`)).hinderedVisits).toEqual([]);
});
