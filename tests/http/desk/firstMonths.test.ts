import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { runNight } from '../../../src/actions/night/runNight.js';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../../setup/plannedHouse.js';
import type { Json } from '../../setup/testHouse.js';

/** A business that moved in with 60 addresses and nothing read; one crew, ten first surveys a week. */
let t: PlannedHouse;
const PER_WEEK = 10;
const finished = new Set<string>();
beforeAll(async () => {
  t = await plannedHouse('2026-10-01T08:00:00Z');
  const { rows } = t.house.stores;
  await t.house.stores.settings.put('surveys', { perWeek: PER_WEEK }, 'test');
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
  for (let i = 0; i < 60; i++) {
    const [site, system, line] = [randomUUID(), randomUUID(), randomUUID()];
    const basement = i % 4 === 0 ? 'finished' : i % 4 === 1 ? 'unknown' : 'none';
    if (basement === 'finished') finished.add(site);
    await rows.insert('site', {
      id: site,
      address: `${i} Marsh Gate`,
      town: 'Brindle',
      area: 'Brindle',
      latitude: 44.58 + i / 2000,
      longitude: -90.3,
      basement,
      tap: 'yes',
    });
    await rows.insert('system', { id: system, site_id: site, name: 'Drain', kind: 'gravity' });
    await rows.insert('line', {
      id: line,
      site_id: site,
      system_id: system,
      name: 'Drain',
      kind: 'footing_drain',
      drains_to: 'outlet',
      outlet: 'daylight',
      length_m: 20,
      stays_wet: true,
      assumed: ['material', 'bore'],
    });
    await rows.insert('line_section', { id: randomUUID(), line_id: line, assumed: ['material', 'bore'] });
    await rows.insert('epoch', {
      id: randomUUID(),
      line_id: line,
      started_on: '2026-09-30',
      begins: 'unknown',
      because: 'first_record',
    });
  }
  await runNight(t.house, {
    businessDay: THURSDAY,
    askedBy: 'test',
    holder: 'test',
    routeSeconds: 1,
    routeIterations: 200,
  });
}, 120_000);

const get = async (url: string): Promise<Json> => (await t.call('dispatcher', { method: 'GET', url })).body;

test('first surveys come in order of consequence, so many a week', async () => {
  const { rows } = await t.pool.query(
    `SELECT site_id, wanted_by FROM work_order WHERE cause = 'first_survey' ORDER BY wanted_by, number`,
  );
  const weeks = new Map<number, string[]>();
  for (const { wanted_by, site_id } of rows) {
    const week = Math.floor((Date.parse(String(wanted_by)) - Date.parse('2026-09-28')) / (7 * 86_400_000));
    weeks.set(week, [...(weeks.get(week) ?? []), String(site_id)]);
  }
  // Orders are made three weeks ahead: up to 22 October, four calendar weeks.
  expect([...weeks.keys()]).toEqual([0, 1, 2, 3]);
  for (const sites of weeks.values()) expect(sites.length).toBeLessThanOrEqual(PER_WEEK);
  // The fifteen finished basements are all in the first two weeks.
  expect(
    new Set([...(weeks.get(0) ?? []), ...(weeks.get(1) ?? [])].filter((id) => finished.has(id))).size,
  ).toBe(15);
  const known = await get('/v1/known-so-far');
  expect(known).toMatchObject({
    lines: 60,
    linesRead: 0,
    systemsUnseen: 60,
    firstSurveys: { ordered: rows.length, done: 0, perWeek: PER_WEEK },
    assumed: { material: 60, bore: 60 },
  });
});

test('each visit asks for one missing fact, shown at its stop and answered once', async () => {
  const { rows: days } = await t.pool.query(`SELECT min(day)::text AS day FROM route WHERE state = 'live'`);
  const day = String(days[0]?.['day']);
  const { items } = await get(`/v1/routes?day=${day}`);
  const stop = items[0].stops.find((each: Json) => each.workOrder?.question);
  const { question } = stop.workOrder;
  expect(question).toMatchObject({ fact: 'material', answered: false });
  expect(question.spreadDays).toBeGreaterThan(0);
  expect(question.text).toBe('Drain: what is the pipe made of?');
  const answer = (payload: object) =>
    t.call('dispatcher', { method: 'POST', url: `/v1/work-orders/${stop.workOrder.id}/answer`, payload });
  expect((await answer({ outlet: 'creek' })).body.errors).toMatchObject([{ pointer: '#/outlet' }]);
  expect((await answer({})).status).toBe(422);
  expect((await answer({ material: 'clay' })).body).toMatchObject({ answered: true });
  expect((await answer({ material: 'pvc' })).status).toBe(409);
  const line = await get(`/v1/lines/${question.lineId}`);
  expect(line).toMatchObject({ mainMaterial: 'clay', assumed: ['bore'] });
  expect((await get('/v1/known-so-far')).questions.answered).toBe(1);
});

test('the weeks ahead against the hours there are, before and after evening out', async () => {
  const { weeks, moved } = await get('/v1/workload');
  expect(weeks).toHaveLength(12);
  expect(weeks[0].monday).toBe('2026-09-28');
  // One crew of 8 h a day: Thursday and Friday are left of this week, five days of the next.
  expect(weeks.slice(0, 2).map(({ capacityHours }: Json) => capacityHours)).toEqual([16, 40]);
  expect(weeks[1].hours.q10).toBeLessThan(weeks[1].hours.q50);
  for (const { on, dueOn } of moved) expect(on < dueOn).toBe(true);
  const picture = await t.call('dispatcher', { method: 'GET', url: '/v1/workload.svg?weeks=6' });
  expect(picture.headers['content-type']).toContain('image/svg+xml');
  expect(picture.text).toContain('Work of the coming weeks');
});
