import { beforeAll, expect, test } from 'vitest';
import { importClientBase } from '../../../src/actions/importClientBase.js';
import type { Role } from '../../../src/domain/words.js';
import { type TestHouse, testHouse } from '../../setup/testHouse.js';
import { twelveHouses } from '../../setup/twelveHouses.js';

let t: TestHouse;
const DAY = '2026-10-01';
const URL = '/v1/reports/cost-against-risk';

const get = (url: string, role: Role = 'owner', accept = 'application/json') =>
  t.call(role, { method: 'GET', url, headers: { accept } });

beforeAll(async () => {
  t = await testHouse('2026-10-01T07:00:00Z');
  await importClientBase(t.house, { name: 'test' }, { base: twelveHouses(), source: 'book', asOf: DAY });
});

test('before the first night there is no curve, and the picture says so', async () => {
  expect((await get(URL)).body).toEqual({
    asOf: DAY,
    fitOf: null,
    currency: 'USD',
    lines: 0,
    linesCounted: 0,
    governing: [],
    linesByRisk: 0,
    risksNow: { finished: 0.02, basement: 0.05, none: 0.1, unknown: 0.05 },
    items: [],
  });
  expect((await get(`${URL}.svg`)).text).toContain('no line to reckon with');
});

test('more risk is fewer visits and more plugs; the cost-least rule is the lowest point; costs are money', async () => {
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: DAY } });
  await t.work();
  const { status, body, text } = await get(URL);
  expect(status, text).toBe(200);
  expect(body).toMatchObject({ fitOf: DAY, currency: 'USD', lines: 24, linesCounted: 24 });
  const risks = body.items.filter(({ rule }: { rule: string }) => rule === 'yearly_risk');
  expect(risks.length).toBeGreaterThanOrEqual(6);
  for (let i = 1; i < risks.length; i++) {
    expect(risks[i].risk).toBeGreaterThan(risks[i - 1].risk);
    expect(risks[i].visitsPerLineYear).toBeLessThanOrEqual(risks[i - 1].visitsPerLineYear);
    expect(risks[i].plugsPerLineYear).toBeGreaterThanOrEqual(risks[i - 1].plugsPerLineYear);
  }
  expect(risks[0].visitsPerLineYear).toBeGreaterThan(risks.at(-1).visitsPerLineYear);
  const least = body.items.find((point: { rule: string }) => point.rule === 'cost_least');
  for (const { visitsPerLineYear, plugsPerLineYear, costPerLineYear } of [...risks, least]) {
    // its days stand on a grid: a fixed risk may hit between them
    expect(least.costPerLineYear).toBeLessThanOrEqual(1.01 * costPerLineYear);
    // 300.00 a visit, 25 visits a plug; a visit that finds the line past its action limit costs half as much again
    const plain = 30_000 * (visitsPerLineYear + 25 * plugsPerLineYear);
    expect(costPerLineYear).toBeGreaterThanOrEqual(0.999 * plain);
    expect(costPerLineYear).toBeLessThanOrEqual(1.001 * plain + 15_000 * visitsPerLineYear);
  }
});

test('with all rules in force nothing is visited less than by the risk alone; today lies among them; what governs is counted', async () => {
  const { items, governing, linesByRisk } = (await get(URL)).body;
  const of = (name: string) => items.filter(({ rule }: { rule: string }) => rule === name);
  const [alone, ruled, [today]] = [of('yearly_risk'), of('all_rules'), of('today')];
  expect(ruled).toHaveLength(alone.length);
  ruled.forEach((point: { risk: number; medianIntervalDays: number }, i: number) => {
    expect(point.risk).toBe(alone[i].risk);
    expect(point.medianIntervalDays).toBeLessThanOrEqual(alone[i].medianIntervalDays);
  });
  // All twelve basements are finished: today's risk of each line is 2 %.
  const { risk: _risk, rule: _rule, ...figures } = ruled.find(({ risk }: { risk: number }) => risk === 0.02);
  expect(today).toMatchObject(figures);
  const dated = governing.reduce((sum: number, each: { lines: number }) => sum + each.lines, 0);
  expect(dated).toBe(24);
  const byRisk = governing.filter(({ rule }: { rule: string }) =>
    ['risk', 'cost_least', 'over_limit'].includes(rule),
  );
  expect(linesByRisk).toBe(byRisk.reduce((sum: number, each: { lines: number }) => sum + each.lines, 0));
});

test("the owner's prices move it: a dearer plug is visited for sooner", async () => {
  const visits = async () =>
    (await get(URL)).body.items.find((point: { rule: string }) => point.rule === 'cost_least')
      .visitsPerLineYear;
  const before = await visits();
  await t.house.stores.settings.put('costs', { plugVisits: 100 }, 'test');
  expect(await visits()).toBeGreaterThan(before);
  await t.house.stores.settings.put('costs', {}, 'test');
});

test('filters narrow the lines, as in the list of trends; another is refused', async () => {
  expect((await get(`${URL}?kind=sump_discharge`)).body.lines).toBe(12);
  expect((await get(`${URL}?kind=sump_discharge&area=Oxmoor`)).body.lines).toBe(6);
  expect((await get(`${URL}?kind=yard_drain`)).body).toMatchObject({ fitOf: DAY, lines: 0, items: [] });
  expect((await get(`${URL}?colour=red`)).status).toBe(400);
});

test('as CSV and as a picture; for the owner alone', async () => {
  const csv = await get(URL, 'owner', 'text/csv');
  expect(csv.headers['content-type']).toContain('text/csv');
  const rows = csv.text.trim().split('\n');
  expect(rows[0]).toBe('rule,risk,medianIntervalDays,visitsPerLineYear,plugsPerLineYear,costPerLineYear');
  expect(rows.find((row) => row.startsWith('cost_least,'))).toMatch(/^cost_least,,\d/);
  expect(rows.at(-1)).toMatch(/^today,,\d/);
  const picture = await get(`${URL}.svg`);
  expect(picture.headers['content-type']).toContain('image/svg+xml');
  expect(picture.text).toMatch(/24\slines/);
  for (const role of ['dispatcher', 'technician', 'integration'] as const)
    expect((await get(URL, role)).status).toBe(403);
});
