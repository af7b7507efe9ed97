import { beforeAll, expect, test } from 'vitest';
import { readXml } from '../papers/readSvg.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
let jetted: string;
let looked: string;
beforeAll(async () => {
  t = await plannedHouse();
  const row = { lock_crew_id: t.crews.heron, lock_day: FRIDAY };
  jetted = await t.order({ east: 1, minutes: 30, kit: ['jetter'], people: 2, row });
  looked = await t.order({ east: 2, minutes: 30, task: 'inspect', row });
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 2 })).id);
  const route = await heron();
  const told = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/days/${FRIDAY}/publication`,
    payload: {},
  });
  expect(told.status, told.text).toBeLessThan(300);
  expect(route.stops.filter(({ workOrder }: Json) => workOrder)).toHaveLength(2);
}, 60_000);

const get = (url: string, accept = 'application/json') =>
  t.call('dispatcher', { method: 'GET', url, headers: { accept } });
const heron = async (): Promise<Json> =>
  (await get(`/v1/routes?day=${FRIDAY}&crewId=${t.crews.heron}`)).body.items[0];
const day = async (): Promise<Json> => (await get(`/v1/days/${FRIDAY}`)).body;
const post = async (path: string, payload: object): Promise<Json> => {
  const { status, body, text } = await t.call('dispatcher', { method: 'POST', url: `/v1/${path}`, payload });
  expect(status, text).toBeLessThan(300);
  return body;
};
const withdraw = (path: string, id: string) =>
  t.call('dispatcher', {
    method: 'PATCH',
    url: `/v1/${path}/${id}`,
    headers: { 'if-match': '"1"' },
    payload: { withdrawnAt: '2026-10-01T12:30:00Z' },
  });
const named = (hindered: Json[]) =>
  hindered.map(({ workOrderId, crewName, published, reasons }) => [
    workOrderId,
    crewName,
    published,
    reasons.map(({ code, text }: Json) => `${code}: ${text}`),
  ]);

test('kit out of service: the answer, the day, the told route and its sheet name the visit and why', async () => {
  expect((await day()).hinderedVisits).toEqual([]);
  const { rows } = await t.pool.query(`SELECT id FROM kit_item WHERE name = 'Heron''s jetter'`);
  const absence = await post('absences', {
    kitItemId: rows[0].id,
    fromDay: THURSDAY,
    toDay: FRIDAY,
    reason: 'pump seal',
  });
  const why = "kit_out_of_service: Heron's jetter is out of service: pump seal";
  expect(named(absence.hinderedVisits)).toEqual([[jetted, 'Heron', true, [why]]]);
  expect(absence.hinderedVisits[0].reasons[0].facts.recordIds).toEqual([absence.id]);
  expect(named((await day()).hinderedVisits)).toEqual([[jetted, 'Heron', true, [why]]]);
  const route = await heron();
  const at = (id: string) => route.stops.find(({ workOrder }: Json) => workOrder?.id === id).workOrder;
  expect(at(jetted).hindrances.map(({ code }: Json) => code)).toEqual(['kit_out_of_service']);
  expect(at(looked).hindrances).toEqual([]);
  expect(route.warnings.map(({ code }: Json) => code)).toContain('cannot_be_done');
  const sheet = await get(`/v1/routes/${route.id}/sheet`, 'text/html');
  const words = readXml(sheet.text.replace('<!DOCTYPE html>\n', '').trimEnd()).text;
  expect(words).toContain('cannot be done as planned');
  expect(words).toContain(
    "Cannot be done as planned: Heron's jetter is out of service: pump seal. Ask the office.",
  );

  const { body } = await withdraw('absences', absence.id);
  expect(body.hinderedVisits).toEqual([]);
  expect((await day()).hinderedVisits).toEqual([]);
});

test('a closed season and a holiday name what falls on them, and nothing of days that are over', async () => {
  const season = { tasks: ['jet'], outsideOnly: true, toDay: FRIDAY, reason: 'frost' };
  const closed = await post('closed-seasons', { ...season, fromDay: '2026-09-01' });
  expect(named(closed.hinderedVisits)).toEqual([
    [jetted, 'Heron', true, ['closed_season: no jet that day: frost']],
  ]);
  await withdraw('closed-seasons', closed.id);
  const past = await post('closed-seasons', { ...season, fromDay: '2026-09-01', toDay: '2026-09-30' });
  expect(past.hinderedVisits).toEqual([]);
  const holiday = await post('holidays', { day: FRIDAY, name: 'Quay Day' });
  expect(holiday.hinderedVisits.map(({ workOrderId }: Json) => workOrderId).sort()).toEqual(
    [jetted, looked].sort(),
  );
  await t.pool.query(`UPDATE holiday SET archived_on = '2026-10-01'`);
});

test('rain and a crew one short tell it when they are reported', async () => {
  const rain = await post('disruptions', { kind: 'rain', day: FRIDAY });
  expect(named(rain.hinderedVisits)).toEqual([
    [jetted, 'Heron', true, ['closed_season: no jet that day: rain']],
  ]);
  const short = await post('disruptions', { kind: 'crew_short', crewId: t.crews.heron, day: FRIDAY });
  expect(named(short.hinderedVisits)).toEqual([
    [jetted, 'Heron', true, ['too_few_people: needs 2 people, Heron has 1 that day: crew short']],
  ]);
  // Both stand in the day, one beside the other.
  expect((await day()).hinderedVisits[0].reasons).toHaveLength(2);
});
