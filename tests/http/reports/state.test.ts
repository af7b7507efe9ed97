import { beforeAll, expect, test } from 'vitest';
import { QUESTIONS } from '../../../src/http/reports/all.js';
import { expectPicture } from '../../papers/readSvg.js';
import { type ReportedLines, reportedLines } from '../../setup/reportedLines.js';

let t: ReportedLines;
let heron: string;
let sites: [string, string];
let lines: [string, string, string];

const get = (path: string, accept = 'application/json') =>
  t.call('owner', { method: 'GET', url: `/v1/reports/${path}`, headers: { accept } });
const body = async (path: string) => {
  const answer = await get(path);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};

beforeAll(async () => {
  t = await reportedLines();
}, 60_000);

test('over an empty base every question answers, in words, as a table and as a picture', async () => {
  for (const { path, item } of QUESTIONS) {
    const json = await get(path);
    expect(json.status, `${path} ${json.text}`).toBe(200);
    expect(json.body).toMatchObject({ asOf: '2026-10-01', lines: 0 });
    const csv = await get(path, 'text/csv');
    expect(csv.headers['content-type']).toContain('text/csv');
    expect(csv.text.split('\n')[0]).toBe(Object.keys(item.shape).join(','));
    const picture = await get(`${path}.svg`);
    expect(picture.headers['content-type'], `${path}: ${picture.text}`).toContain('image/svg+xml');
    expectPicture(picture.text);
  }
}, 60_000);

test('a technician sees none of it, and what a question does not know is refused by name', async () => {
  for (const { path, roles } of QUESTIONS) {
    expect((await t.call('technician', { method: 'GET', url: `/v1/reports/${path}` })).status).toBe(403);
    expect((await t.call('dispatcher', { method: 'GET', url: `/v1/reports/${path}` })).status).toBe(
      roles.includes('dispatcher') ? 200 : 403,
    );
    const odd = await get(`${path}?colour=red`);
    expect(odd.status).toBe(400);
    expect(odd.body.errors[0].pointer).toBe('#/querystring:colour');
  }
  const turned = await get('occlusions?ageFrom=9&ageTo=3');
  expect(turned.status).toBe(400);
  expect(turned.body.errors[0]).toMatchObject({ pointer: '#/querystring:ageFrom' });
  expect((await get('plugs-found?fromDay=2026-02-30')).status).toBe(400);
  expect((await get('plugs-found?fromDay=2026-03-01&toDay=2026-02-01')).status).toBe(400);
}, 60_000);

test('three lines: due weeks, occlusions and rates counted by hand', async () => {
  heron = await t.crew('Heron');
  sites = [
    await t.site({ builder: 'Reed & Sons', ferrous_iron_mg_l: 2 }),
    await t.site({ area: 'Oxmoor', basement: 'finished' }),
  ];
  lines = [
    await t.line(
      sites[0],
      { installed_on: '2016-10-01', main_material: 'clay' },
      { due_on: '2026-09-01', occlusion: 0.5 },
    ),
    await t.line(sites[0], { kind: 'floor_drain' }, { due_rule: 'care_terms', rate_per_month: 0.01 }),
    await t.line(sites[1], {}, { due_on: null, due_rule: 'refused', occlusion: 0.95, rate_per_month: 0.09 }),
  ];
  const due = await body('due-weeks?weeks=3');
  // 1 October 2026 is a Thursday: its Monday is 28 September; 20 October lies in the fourth week.
  expect(due).toMatchObject({ lines: 3, later: 1, never: 1 });
  // The one late line in its class; by its chances of today none is past its action limit and none plugged.
  expect(due.late.map((each: { fromDays: number }) => each.fromDays)).toEqual([1, 31, 92, 183]);
  expect(due.late[0]).toEqual({ fromDays: 1, toDays: 30, lines: 1, likelyPastAction: 0, expectedPlugged: 0 });
  expect(due.late.slice(1).map((each: { lines: number }) => each.lines)).toEqual([0, 0, 0]);
  expect(due.items.map((each: { monday: string; lines: number }) => [each.monday, each.lines])).toEqual([
    [null, 1],
    ['2026-09-28', 0],
    ['2026-10-05', 0],
    ['2026-10-12', 0],
  ]);
  expect((await body('due-weeks?weeks=4')).items[4]).toEqual({
    monday: '2026-10-19',
    lines: 1,
    sites: 1,
    byCareTerms: 1,
  });
  const full = await body('occlusions');
  expect(full).toMatchObject({ lines: 3, pastAction: 2, pastPlug: 1, quantiles: { q50: 0.5 } });
  expect(full.items[10]).toEqual({ from: 0.5, to: 0.55, count: 1 });
  expect((await body('fouling-rates')).quantiles.q50).toBe(0.03);
});

test('the common filter narrows every question alike', async () => {
  const count = async (filter: string) => (await body(`occlusions?${filter}`)).lines;
  await t.clean(lines[2], '2026-08-01', { crew_id: heron });
  await t.clean(lines[0], '2026-08-01', { crew_id: heron });
  await t.clean(lines[0], '2026-09-01');
  expect(await count('kind=floor_drain')).toBe(1);
  expect(await count('material=clay')).toBe(1);
  expect(await count('area=Oxmoor')).toBe(1);
  expect(await count(`builder=${encodeURIComponent('Reed & Sons')}`)).toBe(2);
  // The iron of a site is its lines'; unknown iron fits no bound.
  expect(await count('ironFrom=1.5')).toBe(2);
  expect(await count('ironTo=1.5')).toBe(0);
  // Laid ten years ago to the day, and two unknown.
  expect(await count('ageFrom=9.9&ageTo=10.1')).toBe(1);
  expect(await count('ageFrom=11')).toBe(0);
  // Another cleaned the first line since.
  expect(await count(`crewId=${heron}`)).toBe(1);
  expect(await count(`siteId=${sites[0]}`)).toBe(2);
  expect(await count('kind=floor_drain&area=Oxmoor')).toBe(0);
});

test('at risk on a day: chances straight between the stored days, summed over the lines', async () => {
  const risk = await body('lines-at-risk?on=2026-11-15&top=2');
  // 45 days on: action .05 + .5 × .05 = .075, plug 0 + .5 × .01 = .005, for each of the three.
  expect(risk.items).toHaveLength(2);
  expect(risk.items[0]).toMatchObject({
    actionChance: expect.closeTo(0.075, 9),
    plugChance: expect.closeTo(0.005, 9),
  });
  expect(risk.expectedPastAction).toBeCloseTo(0.225, 9);
  expect(risk.classes.find(({ from }: { from: number }) => from === 0.05)).toMatchObject({
    action: 3,
    plug: 0,
  });
  const past = await get('lines-at-risk?on=2026-09-30');
  expect(past.status).toBe(422);
  expect(past.body.errors[0].pointer).toBe('#/querystring:on');
});

test('unknown facts: of the line, of its site, and what is only assumed', async () => {
  await t.house.stores.rows.update('line', lines[1], { length_m: 12, assumed: ['length'] });
  const { items } = await body('unknown-facts');
  const fact = (name: string) => items.find((each: { fact: string }) => each.fact === name);
  expect(fact('length')).toMatchObject({ of: 'line', asked: 3, unknown: 2, assumed: 1, share: 1 });
  expect(fact('material')).toMatchObject({ unknown: 2 });
  expect(fact('iron')).toMatchObject({ unknown: 1 });
  expect(fact('builder')).toMatchObject({ of: 'site', asked: 2, unknown: 1 });
  expect(fact('pit_depth')).toMatchObject({ of: 'pit', asked: 0, share: 0 });
});
