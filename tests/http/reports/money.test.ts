import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { expectPicture } from '../../papers/readSvg.js';
import { type ReportedLines, reportedLines } from '../../setup/reportedLines.js';

let t: ReportedLines;
let heron: string;
let client: string;
let site: string;
let a: string;
let b: string;
let first: string;

const get = (path: string, accept = 'application/json') =>
  t.call('owner', { method: 'GET', url: `/v1/reports/${path}`, headers: { accept } });
const body = async (path: string) => {
  const answer = await get(path);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};

const doneOrder = (
  day: string,
  lines: string[],
  more: object = {},
  attempt: object = {},
  tasks: object[] = [],
) => t.done({ site, crew: heron, day, lines, tasks, more, attempt });

/**
 * One client, one site, two lines, 200.00 a visit by care terms, a crew of 80.00 an hour. In September: a visit to both
 * lines, another to line a with 150.00 agreed and 50.00 added on site, and a warranty return to line a. In August a
 * clean of line b that no order tells of.
 */
beforeAll(async () => {
  t = await reportedLines();
  const { rows } = t.house.stores;
  heron = await t.crew('Heron', { cost_per_hour_minor: 8_000 });
  client = randomUUID();
  await rows.insert('client', { id: client, name: 'A. Reed' });
  site = await t.site();
  await rows.insert('site_client', { id: randomUUID(), site_id: site, client_id: client });
  a = await t.line(site, {}, { due_rule: 'risk', interval_days: 60 });
  b = await t.line(site, { kind: 'floor_drain' }, { due_rule: 'care_terms', interval_days: 91 });
  await rows.insert('care_terms', {
    id: randomUUID(),
    site_id: site,
    visits_per_year: 4,
    price_minor: 20_000,
    from_day: '2026-01-01',
  });
  first = await doneOrder('2026-09-01', [a, b]);
  const added = { price_minor: 5_000, accepted_by: 'A. Reed', accepted_at: '2026-09-10T14:00:00Z' };
  await doneOrder('2026-09-10', [a], { price_basis: 'quote', price_minor: 15_000 }, {}, [
    { kind: 'clear_outlet', line_id: a, ...added },
  ]);
  await doneOrder('2026-09-20', [a], {
    price_basis: 'warranty',
    cause: 'return_work',
    returns_for_id: first,
  });
  await t.clean(b, '2026-08-15');
}, 60_000);

test('what the client costs and brings: hours at the price of the crew, an ordinary visit where nobody wrote them down', async () => {
  const { items, ...sums } = await body('earnings');
  // Three visits of 1.5 h at 80.00 and one ordinary visit of 300.00: 660.00. Brought 200 + 150 + 50 + 0 + 200.
  expect(sums).toMatchObject({
    lines: 2,
    currency: 'USD',
    costMinor: 66_000,
    unpricedCostMinor: 0,
    earnedMinor: 60_000,
    marginMinor: -6_000,
  });
  expect(items).toEqual([
    {
      id: client,
      name: 'A. Reed',
      address: null,
      lines: 2,
      visits: 4,
      unbilledVisits: 1,
      unpricedVisits: 0,
      visitsWithoutHours: 1,
      hours: 4.5,
      costMinor: 66_000,
      unpricedCostMinor: 0,
      earnedMinor: 60_000,
      marginMinor: -6_000,
    },
  ]);
});

test('a visit to two lines is shared by both; the lines add up to the client', async () => {
  const { items } = await body('earnings?by=line');
  const of = (id: string) => items.find((each: { id: string }) => each.id === id);
  // Line a: half of the first visit, the second and the third: 60 + 120 + 120; brought 100 + 200 + 0.
  expect(of(a)).toMatchObject({ visits: 3, costMinor: 30_000, earnedMinor: 30_000 });
  expect(of(b)).toMatchObject({ visits: 2, costMinor: 36_000, earnedMinor: 30_000 });
  expect((await body('earnings?by=site')).items[0]).toMatchObject({ id: site, visits: 4, costMinor: 66_000 });
  // Asked for one kind, only its share counts.
  expect(await body('earnings?kind=floor_drain')).toMatchObject({ costMinor: 36_000, earnedMinor: 30_000 });
  expect(await body('earnings?fromDay=2026-09-05')).toMatchObject({ costMinor: 24_000, earnedMinor: 20_000 });
});

test('what was not billed brings nothing, whatever was agreed', async () => {
  const order = await doneOrder('2026-07-01', [a], {}, { billed: 'goodwill' });
  expect(await body('earnings?fromDay=2026-07-01&toDay=2026-07-01')).toMatchObject({
    costMinor: 12_000,
    earnedMinor: 0,
  });
  await t.pool.query(`UPDATE attempt SET ended_at = NULL, result = NULL WHERE work_order_id = $1`, [order]);
  await t.pool.query(
    `UPDATE work_order SET state = 'withdrawn', done_at = NULL, withdrawn_because = 'test' WHERE id = $1`,
    [order],
  );
});

test('return work falls to the crew and task that had worked there', async () => {
  const { items } = await body('return-work');
  expect(items[0]).toEqual({
    crewId: heron,
    crew: 'Heron',
    task: 'jet',
    done: 3,
    returns: 1,
    warranty: 1,
    goodwill: 0,
    share: expect.closeTo(1 / 3, 9),
    // Wilson, 1 of 3: .061 to .792
    low: expect.closeTo(0.0615, 4),
    high: expect.closeTo(0.7923, 4),
  });
  expect(items[1]).toMatchObject({ task: 'clear_outlet', done: 1, returns: 0 });
  // The return was to line a: nothing came back to the floor drain.
  expect((await body('return-work?kind=floor_drain')).items).toEqual([
    expect.objectContaining({ task: 'jet', done: 1, returns: 0 }),
  ]);
});

test('done work with agreed prices, as the books take it', async () => {
  const { items, totalMinor, withoutPrice } = await body('done-work');
  expect(totalMinor).toBe(40_000);
  expect(withoutPrice).toBe(0);
  expect(
    items.map((each: Record<string, unknown>) => [
      each['doneOn'],
      each['client'],
      each['tasks'],
      each['priceBasis'],
      each['agreedMinor'],
      each['addedMinor'],
      each['totalMinor'],
    ]),
  ).toEqual([
    ['2026-09-01', 'A. Reed', 'jet jet', 'care_terms', 20_000, 0, 20_000],
    ['2026-09-10', 'A. Reed', 'jet clear_outlet', 'quote', 15_000, 5_000, 20_000],
    ['2026-09-20', 'A. Reed', 'jet', 'warranty', null, 0, 0],
  ]);
  expect(items[2].returnsFor).toBe(items[0].number);
  const csv = await get('done-work', 'text/csv');
  expect(csv.text.trim().split('\n')).toHaveLength(4);
  expect(csv.text).toMatch(/,2026-09-10,.*,20000,,USD\n/);
});

test('care terms: too long for a line that asks sooner, as they should be for the other', async () => {
  const { counts, lines, items, changes } = await body('care-intervals');
  expect(lines).toBe(2);
  expect(counts).toEqual({ too_long: 1, too_long_assumed: 0, needlessly_short: 0, fits: 1, not_told: 0 });
  // Four visits a year are one in 91 days.
  expect(items[0]).toMatchObject({
    lineId: a,
    termsDays: 91,
    intervalDays: 60,
    verdict: 'too_long',
    proposedDays: 60,
    assumedFact: null,
    // 200.00 a visit: 4.0137 visits a year in 91 days, 6.0875 in 60.
    yearNowMinor: 80_275,
    yearProposedMinor: 121_750,
  });
  expect(changes[0]).toEqual({
    verdict: 'too_long',
    terms: 1,
    withoutPrice: 0,
    yearNowMinor: 80_275,
    yearProposedMinor: 121_750,
  });
  expect(items[1]).toMatchObject({ lineId: b, verdict: 'fits', proposedDays: null });
});

test.each([
  'earnings',
  'earnings?by=line',
  'return-work',
  'done-work',
  'care-intervals',
  'proposal-ideas',
  'proposals',
])('%s is drawn, for the owner alone', async (path) => {
  const url = `/v1/reports/${path.replace(/^[^?]*/, (name) => `${name}.svg`)}`;
  const picture = await t.call('owner', { method: 'GET', url });
  expect(picture.status, picture.text).toBe(200);
  expectPicture(picture.text);
  expect(picture.text).toMatch(/2\sline/);
  expect((await t.call('integration', { method: 'GET', url })).status).toBe(403);
});
