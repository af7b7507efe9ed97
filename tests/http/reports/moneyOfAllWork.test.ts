import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { type ReportedLines, reportedLines } from '../../setup/reportedLines.js';

let t: ReportedLines;
let grebe: string;
let site: string;
let upper: string;
let lower: string;
let gone: string;
let pit: string;

const body = async (path: string) => {
  const answer = await t.call('owner', { method: 'GET', url: `/v1/reports/${path}` });
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};
const days = async (filter = '') =>
  (await body(`done-work${filter}`)).items.map(({ doneOn }: { doneOn: string }) => doneOn);

/**
 * A house with two lines and a pit, terms of 100.00 for the upper line and newer ones of 40.00 for the lower; a house
 * whose only line was given up. A crew without a price of its own: 90.00 an hour by the settings, 135.00 an hour and a half.
 */
beforeAll(async () => {
  t = await reportedLines();
  const { rows } = t.house.stores;
  grebe = await t.crew('Grebe');
  site = await t.site();
  upper = await t.line(site, { name: 'Upper' });
  lower = await t.line(site, { name: 'Lower', kind: 'floor_drain' });
  const system = String((await rows.get('line', lower))?.['system_id']);
  pit = randomUUID();
  await rows.insert('pit', { id: pit, site_id: site, system_id: system, place: 'cellar' });
  const terms = { site_id: site, interval_days: 90 };
  await rows.insert('care_terms', {
    ...terms,
    id: randomUUID(),
    line_ids: [upper],
    price_minor: 10_000,
    from_day: '2026-01-01',
  });
  await rows.insert('care_terms', {
    ...terms,
    id: randomUUID(),
    line_ids: [lower],
    price_minor: 4_000,
    from_day: '2026-03-01',
  });
  const house = await t.site({ address: '9 Fen End', area: 'Fen' });
  gone = await t.line(house, { name: 'Gone' });
  const order = { crew: grebe, more: { price_basis: 'quote' } };
  // Upper alone: its own terms, not the newer ones of the lower line.
  await t.done({ site, crew: grebe, day: '2026-06-01', lines: [upper] });
  // Both: one price of each terms.
  await t.done({ site, crew: grebe, day: '2026-06-02', lines: [upper, lower] });
  // An alarm on the pit: no line in it.
  await t.done({
    ...order,
    site,
    day: '2026-06-03',
    tasks: [{ kind: 'fit_alarm', pit_id: pit }],
    more: { price_basis: 'quote', price_minor: 24_500 },
  });
  // The line that was given up in September, and a visit nobody agreed a price for.
  await t.done({
    site: house,
    crew: grebe,
    day: '2026-06-04',
    lines: [gone],
    more: { price_basis: 'quote', price_minor: 46_000 },
  });
  await t.done({
    site: house,
    crew: grebe,
    day: '2026-06-05',
    lines: [gone],
    more: { price_basis: 'quote' },
  });
  // At a house without any line or pit on record; the order has no task.
  const bare = await t.site({ address: '2 Bare Hill', area: 'Hill' });
  await t.done({
    site: bare,
    crew: grebe,
    day: '2026-06-06',
    more: { price_basis: 'quote', price_minor: 9_000 },
  });
  await t.pool.query(`UPDATE line SET archived_on = '2026-09-01' WHERE id = $1`, [gone]);
}, 60_000);

test('the books take every order done: on a pit, on a line given up since, on neither', async () => {
  const { items, totalMinor, withoutPrice } = await body('done-work');
  expect(items.map((each: { doneOn: string; totalMinor: number }) => [each.doneOn, each.totalMinor])).toEqual(
    [
      ['2026-06-01', 10_000],
      ['2026-06-02', 14_000],
      ['2026-06-03', 24_500],
      ['2026-06-04', 46_000],
      ['2026-06-05', 0],
      ['2026-06-06', 9_000],
    ],
  );
  expect(totalMinor).toBe(103_500);
  expect(withoutPrice).toBe(1);
});

test('a filter of lines narrows to the work on them; one of houses to all work of the house', async () => {
  // The pit takes the water of the lower line.
  expect(await days('?kind=floor_drain')).toEqual(['2026-06-02', '2026-06-03']);
  expect(await days(`?siteId=${site}`)).toEqual(['2026-06-01', '2026-06-02', '2026-06-03']);
  expect(await days('?area=Fen')).toEqual(['2026-06-04', '2026-06-05']);
  expect(await days('?area=Hill')).toEqual(['2026-06-06']);
});

test('earnings: hours at the setting where the crew has no price; the margin is of priced visits, the others stand beside', async () => {
  const { items, ...sums } = await body('earnings?by=site');
  // Six visits of 1.5 h at 90.00 are 810.00; five with a price 675.00, which brought 1 035.00.
  expect(sums).toMatchObject({
    costMinor: 81_000,
    unpricedCostMinor: 13_500,
    earnedMinor: 103_500,
    marginMinor: 36_000,
  });
  // Least first: 90 - 135; 100 + 140 + 245 - 405; 460 - 135.
  expect(
    items.map((each: Record<string, unknown>) => [
      each['name'],
      each['visits'],
      each['unpricedVisits'],
      each['marginMinor'],
    ]),
  ).toEqual([
    ['2 Bare Hill', 1, 0, -4_500],
    ['1 Marsh Gate', 3, 0, 8_000],
    ['9 Fen End', 2, 1, 32_500],
  ]);
  // The second visit was to two lines: half of each. Then the alarm, which falls to the line that drains into the pit.
  const byLine = (await body('earnings?by=line')).items;
  const of = (name: string) => byLine.find((each: { name: string }) => each.name === name);
  expect(of('Upper')).toMatchObject({ visits: 2, costMinor: 20_250, earnedMinor: 17_000 });
  expect(of('Lower')).toMatchObject({ visits: 2, costMinor: 20_250, earnedMinor: 31_500 });
  expect(of('no line on record')).toMatchObject({ id: null, costMinor: 13_500, earnedMinor: 9_000 });
});

test('where no visit has a price no margin is told, and it stands last', async () => {
  const { items, marginMinor } = await body('earnings?by=site&fromDay=2026-06-05&toDay=2026-06-06');
  expect(
    items.map((each: Record<string, unknown>) => [
      each['name'],
      each['marginMinor'],
      each['unpricedCostMinor'],
    ]),
  ).toEqual([
    ['2 Bare Hill', -4_500, 0],
    ['9 Fen End', null, 13_500],
  ]);
  expect(marginMinor).toBe(-4_500);
});

test('what comes back to a pit falls to who worked on it', async () => {
  const first = (await body('done-work')).items[2].workOrderId;
  await t.done({
    site,
    crew: grebe,
    day: '2026-06-20',
    tasks: [{ kind: 'test_pump', pit_id: pit }],
    more: { price_basis: 'warranty', cause: 'return_work', returns_for_id: first },
  });
  const alarm = (await body('return-work')).items.find(({ task }: { task: string }) => task === 'fit_alarm');
  expect(alarm).toMatchObject({ done: 1, returns: 1, warranty: 1 });
});

test('what was cleaned and found on a line given up stays in the past it belongs to', async () => {
  await t.clean(gone, '2026-06-05');
  await t.read(gone, '2026-08-01', 0.6);
  expect(await body('clean-results?fromDay=2026-06-01&toDay=2026-06-30')).toMatchObject({ cleans: 1 });
  expect(await body('clean-results?fromDay=2026-09-02')).toMatchObject({ cleans: 0 });
  const groups = async (limit: string) => (await body(`survivals?limit=${limit}&by=area`)).groups;
  expect(await groups('action')).toEqual([expect.objectContaining({ name: 'Fen', stretches: 1, events: 1 })]);
  // Until it was given up on 1 September nobody had called of a plug: 15:30 on the clean's day to that day are 87.4 days.
  expect((await groups('plug'))[0]).toMatchObject({ events: 0, untilDays: 87 });
});

test('a picture of done work has every month of its days', async () => {
  const url = '/v1/reports/done-work.svg?fromDay=2026-03-15&toDay=2026-07-02';
  const { text } = await t.call('owner', { method: 'GET', url });
  for (const month of ['Mar', 'Apr', 'May', 'Jun', 'Jul']) expect(text).toContain(`${month}\u00A02026`);
  expect(text).not.toContain('Aug\u00A02026');
});

test('what no site bears is refused with the nearest there is', async () => {
  const remedy = async (query: string) => {
    const { status, body: problem } = await t.call('owner', {
      method: 'GET',
      url: `/v1/reports/occlusions?${query}`,
    });
    expect(status).toBe(422);
    return problem.errors[0];
  };
  expect(await remedy('area=Fenn')).toMatchObject({ pointer: '#/querystring:area', remedy: 'perhaps "Fen"' });
  expect((await remedy('town=Fen')).remedy).toBe('it is an area: ask with area=Fen');
  expect((await remedy('area=Lumber%20Row')).remedy).toBe('one of: Brindle, Fen, Hill');
  expect((await remedy('builder=Reed')).remedy).toBe('leave it out: no builder is on record');
  expect((await remedy(`clientId=${randomUUID()}`)).detail).toContain('there is no client');
  expect((await body('occlusions?town=Brindle')).lines).toBe(2);
});
