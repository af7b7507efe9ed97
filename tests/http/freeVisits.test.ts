import { beforeEach, expect, test } from 'vitest';
import { addDays } from '../../src/domain/calendar/isoDate.js';
import { sampleLines } from '../../src/persistence/reports/lineSample.js';
import type { Json } from '../setup/testHouse.js';
import { m, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** Only intervals that the old owner chose freely tell how fast a line fouls. */
const TODAY = '2026-10-01';
let t: WorkedHouse;
let built = 0;

/** A house with one footing drain of its own outlet. */
async function drain(): Promise<{ site: Json; line: Json }> {
  const site = await t.send('/v1/sites', {
    address: `${++built} Weir Lane`,
    town: 'Brindle',
    basement: 'none',
  });
  const system = await t.send('/v1/systems', { siteId: site.id, name: 'Footing', kind: 'gravity' });
  const of = { siteId: site.id, systemId: system.id, length: m(18) };
  const line = await t.send('/v1/lines', {
    ...of,
    name: 'Footing',
    kind: 'footing_drain',
    outlet: 'daylight',
  });
  return { site, line };
}

/** Cleaned every so many days back from the last time, each of those named after a camera reading. */
async function visited(
  line: Json,
  everyDays: number,
  times: number,
  occlusion: number,
  read = times,
): Promise<void> {
  for (let k = times; k > 0; k--) {
    const day = addDays(TODAY, -20 - (k - 1) * everyDays);
    if (k <= read)
      await t.send('/v1/inspections', {
        lineId: line.id,
        observedAt: `${day}T15:00:00Z`,
        phase: 'before_cleaning',
        reading: { method: 'camera', share: occlusion },
      });
    await t.send('/v1/cleans', { lineId: line.id, cleanedAt: `${day}T15:30:00Z` });
  }
}

const night = (): Promise<unknown> =>
  t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { again: true } }).then(() => t.work());

beforeEach(async () => {
  t = await workedHouse(`${TODAY}T12:00:00Z`);
}, 60_000);

test('visits are free until terms, a decision or closed roads on record set them: one day whoever asks', async () => {
  const [bySite, byLine, without, refused, digs, free] = [
    await drain(),
    await drain(),
    await drain(),
    await drain(),
    await drain(),
    await drain(),
  ];
  const terms = (of: Json, more: object) =>
    t.send('/v1/care-terms', { siteId: of.site.id, fromDay: '2025-03-01', toDay: '2026-03-01', ...more });
  await terms(bySite, { intervalDays: 90 });
  await terms(byLine, { visitsPerYear: 4, lineIds: [byLine.line.id], fromDay: '2024-06-01' });
  await terms(without, {});
  const decided = (of: Json, task: string) =>
    t.send('/v1/decisions', {
      siteId: of.site.id,
      task,
      kind: 'refusal',
      decidedBy: 'A. Sedge',
      decidedOn: '2025-09-01',
      riskTold: 'it may plug',
    });
  await decided(refused, 'jet');
  await decided(digs, 'dig_and_replace');
  const drains = [bySite, byLine, without, refused, digs, free];
  for (const { line } of drains) await visited(line, 100, 1, 0.2);
  await night();
  const firstNight = String(
    (await t.pool.query('SELECT min(business_day)::text AS day FROM nightly_run')).rows[0].day,
  );

  const fromDays = async (): Promise<(string | null)[][]> => {
    const ids = drains.map(({ line }) => line.id);
    const before = `${TODAY}T05:00:00Z`;
    const booked = await t.house.stores.night.bookedLines(TODAY, before);
    const asked = await sampleLines(t.pool, { filter: {}, today: TODAY }, 100);
    return Promise.all(
      ids.map(async (id) => [
        booked.find(({ facts }) => facts.lineId === id)?.facts.ruledFrom ?? null,
        String((await t.house.stores.answers.line(id, before))?.line['ruled_from']),
        String(asked.rows.find((row) => row['id'] === id)?.['ruled_from']),
      ]),
    );
  };
  const marks = async (): Promise<Map<string, string>> =>
    new Map(
      (await t.house.stores.night.bookedLines(TODAY, `${TODAY}T05:00:00Z`)).map(({ facts, digest }) => [
        facts.lineId,
        digest,
      ]),
    );
  const thrice = (day: string): string[] => [day, day, day];
  expect(await fromDays()).toEqual(
    ['2025-03-01', '2024-06-01', firstNight, '2025-09-01', firstNight, firstNight].map(thrice),
  );

  // Terms from before the service are news of what its visits tell, terms to come are not.
  const before = await marks();
  await terms(digs, { intervalDays: 60, fromDay: '2026-11-01', toDay: '2027-11-01' });
  await terms(free, { intervalDays: 60, fromDay: '2025-12-01' });
  const after = await marks();
  expect(drains.filter(({ line }) => before.get(line.id) !== after.get(line.id))).toEqual([free]);

  const closed = (fromDay: string, toDay: string) =>
    t.send('/v1/closed-seasons', {
      tasks: ['hose_flush', 'jet'],
      fromDay,
      toDay,
      reason: 'roads closed by frost',
    });
  // Roads to be closed are no news of what was found, roads closed before are, but to the line whose promise is older still.
  await closed('2027-01-05', '2027-03-31');
  expect(await marks()).toEqual(after);
  await closed('2025-01-05', '2025-03-31');
  expect(await fromDays()).toEqual(
    ['2025-01-05', '2024-06-01', '2025-01-05', '2025-01-05', '2025-01-05', '2025-01-05'].map(thrice),
  );
  const roads = await marks();
  expect(drains.filter(({ line }) => after.get(line.id) === roads.get(line.id))).toEqual([byLine]);

  // That a first night has run is no news by itself.
  await t.pool.query('TRUNCATE nightly_run CASCADE');
  expect(await marks()).toEqual(roads);
});

test('cleaned every 40 days and never looked into: by contract a line like others, by choice one of the worst', async () => {
  // Free owners came sooner where they found more: a third after 40 days, .03 after 200.
  for (let k = 0; k < 12; k++) {
    await visited((await drain()).line, 40, 8, 0.33 + 0.002 * k);
    await visited((await drain()).line, 200, 4, 0.02 + 0.002 * k);
  }
  const [contract, free] = [await drain(), await drain()];
  for (const { line } of [contract, free]) await visited(line, 40, 12, 0, 0);
  await t.send('/v1/care-terms', {
    siteId: contract.site.id,
    intervalDays: 40,
    fromDay: '2020-01-01',
    toDay: '2026-09-01',
  });
  await night();
  const trendOf = async ({ line }: { line: Json }) => (await t.get(`/v1/lines/${line.id}/trend`)).trend;
  const [byContract, byChoice] = [await trendOf(contract), await trendOf(free)];
  // Read a third after 40 days is about .25 of the bore a month at first, .03 after 200 days .005: between them the contract's.
  expect(byChoice.ratePerMonth.median).toBeGreaterThan(0.1);
  expect(byContract.ratePerMonth.median).toBeLessThan(0.05);
  expect(byContract.ratePerMonth.q10).toBeLessThan(0.01);
  expect(byContract.dueOn > byChoice.dueOn).toBe(true);
});
