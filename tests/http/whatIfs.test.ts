import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { answerWhatIf } from '../../src/actions/whatIf/answerWhatIf.js';
import { newcomers } from '../../src/actions/whatIf/newSites.js';
import { AS_IT_IS, type WhatIf, type WhatIfAnswer } from '../../src/actions/whatIf/whatIfAsk.js';
import { dayNumber } from '../../src/domain/calendar/isoDate.js';
import { CONVERSION_VERSION } from '../../src/domain/readings/occlusionOf.js';
import { fillLargeBase } from '../bench/night/largeBase.js';
import { expectPicture } from '../papers/readSvg.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let heron: string;
let plover: string;
const DAY = '2026-10-01';
const RUNS = { runs: 2, weeks: 12, seed: 4 };

const ask = (payload: object) => t.call('owner', { method: 'POST', url: '/v1/what-ifs', payload });
const look = (id: string, accept = 'application/json') =>
  t.call('owner', { method: 'GET', url: `/v1/what-ifs/${id}`, headers: { accept } });

async function answer(change: Partial<WhatIf>): Promise<WhatIfAnswer> {
  const answered = await answerWhatIf(t.house, DAY, { ...AS_IT_IS, ...change }, RUNS, {
    onProgress: () => {},
  });
  if (answered === null) throw new Error('not answered');
  return answered;
}

/** Marks of everything in the books that a simulated year could have touched. */
const marks = async () =>
  (
    await t.pool.query(
      `SELECT (SELECT md5(string_agg(i::text, '' ORDER BY id)) FROM inspection i) AS readings, (SELECT md5(string_agg(c::text, '' ORDER BY id)) FROM clean c) AS cleans,
              (SELECT md5(string_agg(r::text, '' ORDER BY line_id)) FROM trend r) AS trends, (SELECT count(*) FROM work_order) AS orders,
              (SELECT count(*) FROM trend_history) AS history, (SELECT max(seq) FROM change_log) AS changes, (SELECT count(*) FROM setting) AS settings`,
    )
  ).rows[0];

beforeAll(async () => {
  t = await testHouse('2026-10-01T07:00:00Z');
  await fillLargeBase(t.pool, { lines: 80, readingsPerLine: 5, asOfDay: dayNumber(DAY), seed: 5 });
  // Its readings have no raw text to be derived from again.
  await t.pool.query('UPDATE inspection SET conversion_version = $1', [CONVERSION_VERSION]);
  const { rows } = t.house.stores;
  const depot = randomUUID();
  await rows.insert('depot', { id: depot, name: 'North yard', latitude: 44.6, longitude: -90.3 });
  for (const name of ['Heron', 'Plover']) {
    const crew = randomUUID();
    if (name === 'Heron') heron = crew;
    else plover = crew;
    await rows.insert('crew', { id: crew, name, depot_id: depot, people: 2 });
    for (const weekday of ['mon'])
      await rows.insert('shift', {
        id: randomUUID(),
        crew_id: crew,
        weekday,
        starts_at: '08:00',
        ends_at: '14:30',
        break_after: '12:00',
        break_minutes: 30,
        from_day: '2026-01-01',
      });
  }
}, 120_000);

test('before the first night there is nothing to go by, and the question says so', async () => {
  const { body } = await ask({ weeks: 4, runs: 2 });
  await t.work();
  expect((await look(body.id)).body).toMatchObject({ state: 'failed', answer: null });
  const csv = await look(body.id, 'text/csv');
  expect(csv.status).toBe(409);
}, 120_000);

test('as it is: asked, worked out in the background, told in JSON, CSV and a picture; nothing in the books has moved', async () => {
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: DAY } });
  await t.work();
  const before = await marks();
  const asked = await ask({ weeks: 6, runs: 2, seed: 9 });
  expect(asked.status, asked.text).toBe(202);
  expect(asked.body).toMatchObject({ state: 'waiting', progress: 0, runs: 2, weeks: 6, seed: 9 });
  await t.work();
  const { body } = await look(asked.body.id);
  expect(body).toMatchObject({
    state: 'done',
    progress: 1,
    // Both by the clock of the house, which stands at seven in this test.
    createdAt: '2026-10-01T07:00:00.000Z',
    finishedAt: '2026-10-01T07:00:00.000Z',
    answer: { asOf: DAY, lines: 80, linesCounted: 80, otherwise: null, differences: null },
  });
  const { weeks, totals } = body.answer.asItIs;
  // The Monday after Thursday 1 October; two crews, one day of 6 hours beside the break.
  expect(weeks.map((week: { monday: string }) => week.monday).slice(0, 2)).toEqual([
    '2026-10-05',
    '2026-10-12',
  ]);
  expect(weeks[0].capacityHours).toBe(12);
  expect(totals.visits.q50).toBeGreaterThan(0);
  for (const week of weeks) {
    expect(week.hours.q90).toBeLessThanOrEqual(12 + week.overtimeHours.q90);
    expect(week.visits.q10).toBeLessThanOrEqual(week.visits.q90);
  }
  const csv = await look(asked.body.id, 'text/csv');
  expect(csv.text.split('\n')[0]).toMatch(/^way,monday,capacityHours,visitsQ10,visitsQ50,visitsQ90,hoursQ10/);
  expect(csv.text.trim().split('\n')).toHaveLength(7);
  const picture = await t.call('owner', { method: 'GET', url: `/v1/what-ifs/${asked.body.id}/weeks.svg` });
  expectPicture(picture.text);
  expect(picture.text).toMatch(/80\slines/);
  for (const [units, volume] of [
    ['us', 'gallons'],
    ['metric', 'litres'],
  ]) {
    const url = `/v1/what-ifs/${asked.body.id}/weeks.svg?units=${units}`;
    expect((await t.call('owner', { method: 'GET', url })).text).toContain(volume);
  }
  expect(await marks()).toEqual(before);
  const list = await t.call('owner', { method: 'GET', url: '/v1/what-ifs?state=done' });
  expect(list.body.items.map((each: { id: string }) => each.id)).toEqual([asked.body.id]);
}, 180_000);

test('the same question, books and seed give the same answer; another seed another', async () => {
  // Long enough for lines to be seen twice: what the first visit finds is chance.
  const weeks = async (seed: number) =>
    (await answerWhatIf(t.house, DAY, AS_IT_IS, { runs: 2, weeks: 26, seed }, { onProgress: () => {} }))
      ?.asItIs.weeks;
  const one = await weeks(4);
  expect(await weeks(4)).toEqual(one);
  expect(await weeks(5)).not.toEqual(one);
}, 180_000);

test('both ways have the same weather: what changes nothing for the lines changes nothing at all', async () => {
  // Crews far beyond the work, and five more of them: the same visits, weeks and plugs in every run.
  const settings = { intervals: { steadyDays: 3 } };
  const same = await answer({ settings });
  expect(same.otherwise?.weeks).toEqual(same.asItIs.weeks);
  expect(same.differences?.visits).toEqual({ mean: 0, low: 0, high: 0, verdict: 'same' });
  // Crews away in the last two weeks: until then nothing may differ, where no week looks ahead.
  const asDue = { aheadDays: 0, levelDays: 0, lateSpreadDays: 0 };
  const away = { fromDay: '2026-12-14', toDay: '2026-12-27' };
  const late = await answer({
    lostCrews: [
      { crewId: heron, ...away },
      { crewId: plover, ...away },
    ],
    settings: { visits: asDue },
  });
  const plain = await answer({ settings: { visits: asDue } });
  expect(late.otherwise?.weeks.slice(0, 10)).toEqual(plain.otherwise?.weeks.slice(0, 10));
  expect(late.otherwise?.weeks[11]).not.toEqual(plain.otherwise?.weeks[11]);
}, 240_000);

test('the hours used stand beside the hours there are, and the difference is of the same runs', async () => {
  const { asItIs, otherwise, differences } = await answer({ extraCrews: -1 });
  const hours = asItIs.weeks[0]?.hours.q50 ?? Number.NaN;
  expect(asItIs.weeks[0]?.usedShare?.q50).toBeCloseTo(hours / 12, 9);
  expect(otherwise?.usedShare?.q50).toBeGreaterThan(asItIs.usedShare?.q50 ?? 1);
  expect(differences?.backlog.mean).toBeGreaterThan(0);
  // Two runs tell nothing, however far apart they lie.
  expect(differences?.backlog.verdict).toBe('cannot_be_told');
}, 240_000);

test('new clients that are less than one a week are carried over, never dropped', () => {
  const weeks = (perWeek: number, count: number) =>
    Array.from({ length: count }, (_, week) => newcomers(perWeek, week)).reduce((sum, each) => sum + each, 0);
  // A quarter of the base worked on, one new site a week for 30 weeks: 7 of them.
  expect(weeks(0.25, 30)).toBe(7);
  expect(weeks(0.1, 30)).toBe(3);
  expect(weeks(2.5, 4)).toBe(10);
  expect(weeks(0, 30)).toBe(0);
});

test('crews lost for a month: their hours are gone in those weeks alone, and what is due waits', async () => {
  const month = { fromDay: '2026-10-05', toDay: '2026-11-01' };
  const hours = ({ weeks }: WhatIfAnswer['asItIs']) =>
    weeks.map(({ capacityHours }) => capacityHours).slice(0, 6);
  const one = await answer({ lostCrews: [{ crewId: heron, ...month }] });
  expect(hours(one.asItIs)).toEqual([12, 12, 12, 12, 12, 12]);
  expect(hours(one.otherwise ?? one.asItIs)).toEqual([6, 6, 6, 6, 12, 12]);
  const both = await answer({
    lostCrews: [heron, plover].map((crewId) => ({ crewId, ...month })),
  });
  const weeks = both.otherwise?.weeks ?? [];
  // Nobody goes but to those who call, in overtime.
  for (const { hours: spent, overtimeHours, visits, plugs } of weeks.slice(0, 4)) {
    expect(spent.q90).toBeCloseTo(overtimeHours.q90, 9);
    expect(visits.q90).toBe(plugs.q90);
  }
  expect(weeks[3]?.backlog.q50).toBeGreaterThan(both.asItIs.weeks[3]?.backlog.q50 ?? Infinity);
}, 180_000);

test('overtime is bought for visits that would wait, within what a shift may be kept, and never where it may not be', async () => {
  const over = async (overtimeMinutes: number) => {
    const { otherwise } = await answer({ extraCrews: -1, settings: { routes: { overtimeMinutes } } });
    // One crew with one shift a week is left; plugs are called for whatever it takes.
    return (otherwise?.weeks ?? [])
      .filter(({ plugs }) => plugs.q90 === 0)
      .map(({ overtimeHours }) => overtimeHours.q90);
  };
  const [none, two] = [await over(0), await over(120)];
  expect(Math.max(...none)).toBe(0);
  expect(Math.max(...two)).toBeGreaterThan(0);
  expect(Math.max(...two)).toBeLessThanOrEqual(2);
}, 240_000);

test('weeks with more work than hours are evened out as by night: without that, more waits', async () => {
  const away = { fromDay: '2027-01-04', toDay: '2027-01-24' };
  const crews = { lostCrews: [heron, plover].map((crewId) => ({ crewId, ...away })) };
  const backlog = async (settings: WhatIf['settings']) => {
    const asked = { ...AS_IT_IS, ...crews, settings };
    const answered = await answerWhatIf(
      t.house,
      DAY,
      asked,
      { runs: 2, weeks: 20, seed: 4 },
      { onProgress: () => {} },
    );
    return answered?.otherwise?.weeks.map((week) => week.backlog.q50) ?? [];
  };
  const [evened, asDue] = [await backlog({}), await backlog({ visits: { levelDays: 0 } })];
  const sum = (weeks: number[]) => weeks.reduce((total, each) => total + each, 0);
  // Crews are away from the fourteenth week to the sixteenth.
  expect(sum(asDue.slice(13, 16))).toBeGreaterThan(sum(evened.slice(13, 16)));
}, 240_000);

test('half the crews leave more waiting; new clients bring more visits; a lower risk more still', async () => {
  const crews = await answer({ extraCrews: -1 });
  expect(crews.otherwise?.weeks[0]?.capacityHours).toBe(6);
  expect(crews.otherwise?.totals.backlog.q50).toBeGreaterThan(crews.asItIs.totals.backlog.q50);

  const clients = await answer({ extraCrews: 20, newSites: { perWeek: 2, weeks: 4 } });
  const many = await answer({ extraCrews: 20 });
  expect(clients.otherwise?.totals.visits.q50).toBeGreaterThan((many.otherwise?.totals.visits.q50 ?? 0) + 5);

  const risk = await answer({
    extraCrews: 20,
    settings: { yearlyPlugRisk: { finished: 0.0005, basement: 0.0005, none: 0.0005, unknown: 0.0005 } },
  });
  expect(risk.otherwise?.totals.visits.q50).toBeGreaterThan(many.otherwise?.totals.visits.q50 ?? Infinity);
}, 300_000);

test('what cannot be is refused by name, and only the owner asks', async () => {
  const unknown = await ask({ lostCrews: [{ crewId: randomUUID(), fromDay: DAY, toDay: DAY }] });
  expect(unknown.status).toBe(422);
  expect(unknown.body.errors[0].pointer).toBe('#/lostCrews/0/crewId');
  const turned = await ask({ lostCrews: [{ crewId: heron, fromDay: '2026-10-09', toDay: DAY }] });
  expect(turned.body.errors[0].pointer).toBe('#/lostCrews/0/toDay');
  expect((await ask({ settings: { intervals: { minDays: 9000 } } })).status).toBe(422);
  expect((await ask({ settings: { colour: 1 } })).status).toBe(400);
  expect((await ask({ settings: { yearlyPlugRisk: null } })).status).toBe(400);
  expect((await ask({ runs: 1 })).status).toBe(400);
  expect((await ask({ crews: 3 })).body.errors[0].pointer).toBe('#/crews');
  expect((await look(randomUUID())).status).toBe(404);
  for (const role of ['dispatcher', 'technician', 'integration'] as const)
    expect((await t.call(role, { method: 'POST', url: '/v1/what-ifs', payload: {} })).status).toBe(403);
}, 60_000);
