import { beforeEach, expect, test } from 'vitest';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
beforeEach(async () => {
  t = await plannedHouse();
  await t.pool.query('DELETE FROM shift WHERE crew_id <> $1', [t.crews.heron]);
}, 60_000);

const setRoutes = async (routes: object) => {
  const { version } = (await t.call('owner', { method: 'GET', url: '/v1/settings' })).body;
  return t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    headers: { 'if-match': `"${version}"` },
    payload: { routes },
  });
};
const today = { fromDay: THURSDAY, workingDays: 1 };
const twoDays = { fromDay: THURSDAY, workingDays: 2 };
const daysOf = (plan: Json) => plan.changes.items.map((item: Json) => item.to?.day).sort();

test('the owner says how long a plan keeps a crew; the plan says what that bought', async () => {
  // 480 minutes of work and 30 of break fill the shift of 7:30 to 16:00: the drive is overtime.
  const order = await t.order({ north: 8, minutes: 480 });
  const plan = await t.plan(today);
  expect(plan.unplaced).toEqual([]);
  const [bought] = plan.summary.overtime;
  expect(bought).toMatchObject({
    crewId: t.crews.heron,
    day: THURSDAY,
    without: [{ workOrderId: order, place: null }],
  });
  // An hour of the crew costs 90.00, of overtime 135.00.
  expect(bought.costMinor).toBe(Math.round((bought.seconds * 13_500) / 3600));
  expect(bought.text).toMatch(
    /^Heron on Thu 1 Oct 2026: \d+ min of overtime, USD \d+; without it order 1 would be left out, USD \d+ dearer in all$/,
  );

  expect((await setRoutes({ overtimeMinutes: 0 })).status).toBe(200);
  const strict = await t.plan(today);
  expect(strict.unplaced).toMatchObject([{ workOrderId: order, code: 'no_time_for_break' }]);
  expect(strict.summary.overtime).toEqual([]);
  const byHand = await t.place(order, {
    crewId: t.crews.heron,
    day: THURSDAY,
    afterWorkOrderId: null,
    tryOnly: true,
  });
  expect(byHand.body.warnings[0].text).toContain('where a plan uses at most 0 min');
  const noPlace = await t.call('dispatcher', { method: 'GET', url: `/v1/work-orders/${order}/places` });
  expect(noPlace.body.places).toEqual([]);
});

test('what a day late costs, and what overtime must gain, decide between overtime and an empty Friday', async () => {
  for (const east of [0, 1])
    await t.order({ north: 8, east, minutes: 250, row: { wanted_by: '2026-06-01' } });
  // Both on Thursday: about half an hour of overtime, some 65.00. On Friday one waits a day: 3 % of 300.00, four times
  // as dear since it is long overdue, 36.00, and a drive of some 15.00.
  expect(daysOf(await t.plan(twoDays))).toEqual([THURSDAY, FRIDAY]);
  // Twice as dear to wait: 72.00.
  await setRoutes({ lateShareADay: 0.06 });
  const dear = await t.plan(twoDays);
  expect(daysOf(dear)).toEqual([THURSDAY, THURSDAY]);
  expect(dear.summary.overtime[0].text).toMatch(/would go to Heron on Fri 2 Oct 2026, USD \d+ dearer/);
  await setRoutes({ overtimeGain: 3 });
  expect(daysOf(await t.plan(twoDays))).toEqual([THURSDAY, FRIDAY]);
  // Not dearer for being overdue: 18.00.
  await setRoutes({ overtimeGain: 1, overdueFactor: 1 });
  expect(daysOf(await t.plan(twoDays))).toEqual([THURSDAY, FRIDAY]);
});

test('what moving a stop crews rely on costs is the owner’s too', async () => {
  const order = await t.order({ north: 8 });
  await t.place(order, { crewId: t.crews.heron, day: FRIDAY, afterWorkOrderId: null });
  // A day earlier saves 3 % of a visit; another day costs 15 %.
  expect(daysOf(await t.plan(twoDays))).toEqual([]);
  await setRoutes({ otherDayShare: 0.02 });
  expect(daysOf(await t.plan(twoDays))).toEqual([THURSDAY]);
});

test('numbers out of bounds are refused by field, what is changed is on record', async () => {
  for (const [field, wrong] of [
    ['overtimeMinutes', 481],
    ['overtimeFactor', 0.5],
    ['lateShareADay', 1.1],
    ['overdueFactor', 0],
    ['otherHourShare', -0.1],
  ] as const) {
    const { status, body } = await setRoutes({ [field]: wrong });
    expect([status, body.errors?.[0]?.pointer]).toEqual([400, `#/routes/${field}`]);
  }
  expect((await setRoutes({ overtimeMinutes: 30 })).body.settings.routes).toMatchObject({
    overtimeMinutes: 30,
    overtimeFactor: 1.5,
    overdueFactor: 4,
  });
  const { rows } = await t.pool.query(`SELECT value FROM setting WHERE name = 'routes'`);
  expect(rows).toEqual([{ value: { overtimeMinutes: 30 } }]);
});
