import { beforeAll, expect, test } from 'vitest';
import { expectPicture } from '../../papers/readSvg.js';
import { type ReportedLines, reportedLines } from '../../setup/reportedLines.js';

let t: ReportedLines;
let heron: string;
let plover: string;
let a: string;
let b: string;

const body = async (path: string) => {
  const answer = await t.call('owner', { method: 'GET', url: `/v1/reports/${path}` });
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};

/**
 * Line a: cleaned 1 March by Heron from .4 to .05, .3 after 100 days and cleaned, .5 after 100 more and cleaned by Plover, not seen since.
 * Line b: cleaned 1 March, cleaned 1 June unread, plugged 1 August, opened the same day.
 */
beforeAll(async () => {
  t = await reportedLines();
  heron = await t.crew('Heron');
  plover = await t.crew('Plover');
  const site = await t.site();
  a = await t.line(site);
  b = await t.line(site, { kind: 'floor_drain' });
  const jet = { task: 'jet' };
  await t.read(a, '2026-03-01', 0.4);
  await t.clean(a, '2026-03-01', { ...jet, crew_id: heron, flow_proven: 'yes' });
  await t.read(a, '2026-03-01', 0.05, { phase: 'after_cleaning', observed_at: '2026-03-01T16:00:00Z' });
  await t.read(a, '2026-06-09', 0.3);
  await t.clean(a, '2026-06-09', { ...jet, crew_id: heron });
  await t.read(a, '2026-09-17', 0.5);
  await t.clean(a, '2026-09-17', { ...jet, crew_id: plover });
  await t.clean(b, '2026-03-01', jet);
  await t.clean(b, '2026-06-01', jet);
  await t.read(b, '2026-08-01', null, { plugged: true, plug_cause: 'deposit', method: null });
  await t.clean(b, '2026-08-01', jet);
}, 60_000);

test('survival to the action limit: the visit that found it past is the event, others end the watch', async () => {
  const { groups, items } = await body('survivals?limit=action');
  // a: 100 days under, cleaned; 100 days, found at .5 past .45; then nothing seen. b: nothing read after the first; plugged after 61 days.
  expect(groups.map(({ left, ...group }: { left: unknown }) => group)).toEqual([
    { name: 'footing_drain', stretches: 2, events: 1, medianDays: 100, untilDays: 100, tenUntilDays: 0 },
    { name: 'floor_drain', stretches: 1, events: 1, medianDays: 61, untilDays: 61, tenUntilDays: 0 },
  ]);
  expect(items[0]).toMatchObject({ group: 'footing_drain', days: 100, atRisk: 2, events: 1, survival: 0.5 });
});

test('survival to the plug limit: a line that did not call is free until its next clean or today', async () => {
  const { groups } = await body('survivals?limit=plug');
  // a: 100, 100, and 13.6 days from 17 September to 1 October; b: 92, a plug after 61, and 60.6 since.
  expect(groups[0]).toMatchObject({ name: 'floor_drain', stretches: 3, events: 1 });
  expect(groups[0].left).toEqual([
    { days: 61, count: 1 },
    { days: 92, count: 1 },
  ]);
  expect(groups[1].left).toEqual([
    { days: 14, count: 1 },
    { days: 100, count: 2 },
  ]);
});

test.each(['kind', 'material', 'area', 'builder', 'basement', 'iron'])('survival by %s', async (by) => {
  const { groups } = await body(`survivals?limit=plug&by=${by}`);
  expect(groups.reduce((sum: number, { stretches }: { stretches: number }) => sum + stretches, 0)).toBe(6);
});

test('clean results: before, after, and regrowth from what was left', async () => {
  const { cleans, items } = await body('clean-results');
  expect(cleans).toBe(6);
  const of = (crew: string | null) => items.find((each: { crew: string | null }) => each.crew === crew);
  // Regrowth .25 in 99.98 days after a measured .05; .45 from Heron's own mean of .05 after the unmeasured clean.
  expect(of('Heron')).toMatchObject({
    task: 'jet',
    cleans: 2,
    measuredBefore: 2,
    before: expect.closeTo(0.35, 9),
    measuredAfter: 1,
    after: 0.05,
    regrown: 2,
    flowProven: 1,
    flowNotProven: 0,
  });
  expect(of('Heron').regrowthPerMonth).toBeCloseTo(((0.25 + 0.45) / 2) * (30.4375 / 99.98), 3);
  expect(of('Plover')).toMatchObject({ cleans: 1, before: 0.5, measuredAfter: 0, after: null, regrown: 0 });
  expect(of(null)).toMatchObject({ cleans: 3, before: null, regrowthPerMonth: null });
  expect((await body('clean-results?fromDay=2026-09-01')).cleans).toBe(1);
});

test('a plug is foreseen when the line was due, or held likely to be over its limit', async () => {
  const stored = (asOf: string, dueOn: string | null, chances: number[], rule = 'risk') =>
    t.pool.query(
      `INSERT INTO trend_history (line_id, as_of, fit_id, engine_version, evidence_hash, because, occlusion, occlusion_sd, rate_per_month, action_limit, plug_limit, readings_used, due_on, due_rule, action_chances)
       VALUES ($1, $2, gen_random_uuid(), 'test', 'a', 'evidence', .2, .05, .03, .45, .9, 2, $3, $5, $4)`,
      [b, asOf, dueOn, chances, rule],
    );
  expect((await body('plugs-found')).items[0]).toMatchObject({
    lineId: b,
    foundOn: '2026-08-01',
    foreseen: 'no_forecast',
  });
  await stored('2026-06-02', '2026-12-01', [0, 0, 0, 0.05, 0.1, 0.2, 0.5, 0.9]);
  expect((await body('plugs-found')).counts).toMatchObject({ not_foreseen: 1, due: 0 });
  // Newer forecasts rule; those after the plug do not.
  await stored('2026-07-01', '2026-12-01', [0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.99]);
  expect((await body('plugs-found')).items[0]).toMatchObject({
    foreseen: 'likely',
    forecastOf: '2026-07-01',
  });
  await stored('2026-07-10', '2026-07-30', [0, 0, 0, 0, 0, 0, 0, 0], 'hardening');
  expect((await body('plugs-found')).counts).toMatchObject({ due: 0, due_otherwise: 1, not_foreseen: 0 });
  await stored('2026-07-20', '2026-07-30', [0, 0, 0, 0, 0, 0, 0, 0]);
  await stored('2026-08-02', null, [0, 0, 0, 0, 0, 0, 0, 0]);
  expect((await body('plugs-found')).counts).toMatchObject({ due: 1 });
  await t.read(a, '2026-09-20', null, { plugged: true, plug_cause: 'ice', method: null });
  expect((await body('plugs-found')).items).toHaveLength(1);
});

test('the review list, most doubted first, by method', async () => {
  const odd = await t.read(a, '2026-09-25', 0.97, { phase: 'no_cleaning', crew_id: plover });
  await t.pool.query(
    `INSERT INTO reading_review (inspection_id, line_id, weight, suspicion) VALUES ($1, $2, .1, 'Free bore entered.')`,
    [odd, a],
  );
  const list = await body('doubted-readings');
  expect(list.items).toEqual([
    expect.objectContaining({
      inspectionId: odd,
      crew: 'Plover',
      occlusion: 0.97,
      weight: 0.1,
      suspicion: 'Free bore entered.',
    }),
  ]);
  // From 25 September 15:00 to 1 October 12:00: five whole days.
  expect(list.byMethod).toEqual([{ method: 'camera', open: 1, oldestDays: 5 }]);
});

test.each(['survivals', 'survivals?limit=plug&by=iron', 'clean-results', 'plugs-found', 'doubted-readings'])(
  '%s is drawn with the lines behind it',
  async (path) => {
    const url = `/v1/reports/${path.replace(/^[^?]*/, (name) => `${name}.svg`)}`;
    const picture = await t.call('owner', { method: 'GET', url });
    expect(picture.status, picture.text).toBe(200);
    expectPicture(picture.text);
    expect(picture.text).toMatch(/2\sline/);
  },
);
