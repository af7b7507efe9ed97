import { beforeAll, expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { proposalIdeas } from '../../src/actions/proposals/ideas.js';
import { bookLine, bookSite, readingsBeforeCleans } from '../setup/bookRows.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
const DAY = '2026-10-01';
const LAST = '2026-09-20T14:00:00Z';

/** Eight slow PVC lines; three fast corrugated ones: on plain soil, on ochre, and on plain soil under care terms. */
beforeAll(async () => {
  t = await testHouse('2026-10-01T12:00:00Z');
  const slow = Array.from({ length: 8 }, (_, i) => ({
    site: bookSite(i),
    line: bookLine({ lineId: `P${i}`, siteId: `S${i}`, kind: 'footing_drain', ferrousIronMgL: 0.1 }),
    readings: readingsBeforeCleans(`P${i}`, LAST, { occlusion: 0.05 + i / 100, deposit: 'granular' }),
  }));
  const fast = (['plain', 'ochre', 'terms'] as const).map((name, i) => ({
    site: bookSite(20 + i),
    line: bookLine({
      lineId: name,
      siteId: `S${20 + i}`,
      kind: 'footing_drain',
      material: 'corrugated_hdpe',
      ferrousIronMgL: name === 'ochre' ? 6 : 0.1,
    }),
    readings: readingsBeforeCleans(name, LAST, {
      occlusion: 0.42,
      count: 6,
      deposit: name === 'ochre' ? 'gel' : 'granular',
    }),
  }));
  const all = [...slow, ...fast];
  await importClientBase(
    t.house,
    { name: 'test' },
    {
      base: {
        sites: all.map(({ site }) => site),
        lines: all.map(({ line }) => line),
        readings: all.flatMap(({ readings }) => readings),
        crews: [],
      },
      source: 'book',
      asOf: DAY,
    },
  );
  const { rows } = t.house.stores;
  const terms = await lineOf('terms');
  await rows.insert('care_terms', {
    id: '00000000-0000-7000-8000-00000000c0de',
    site_id: terms['site_id'],
    interval_days: 30,
    from_day: '2026-01-01',
  });
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: DAY } });
  await t.work();
}, 120_000);

const lineOf = async (ref: string) =>
  (await t.pool.query('SELECT * FROM line WHERE external_ref = $1 OR name = $1', [ref])).rows[0];
const ideas = () => proposalIdeas(t.house, { filter: {}, today: DAY });

test('a smooth pipe is named where it spares visits, not where ochre or the terms bring the crew as often', async () => {
  const plain = await lineOf('plain');
  const found = (await ideas()).filter(({ kind }) => kind === 'smooth_pipe');
  expect(found.map(({ lineId }) => lineId)).toEqual([plain['id']]);
  const { systemDaysNow, systemDaysThen } = found[0]?.reasons[0]?.facts ?? {};
  expect(found[0]?.visitsSavedPerYear).toBeCloseTo(
    365.25 / Number(systemDaysNow) - 365.25 / Number(systemDaysThen),
    9,
  );
  // On ochre the first interval is 90 days and gel hardens in 91: the fast line must come sooner than that or nothing is saved.
  expect(Number(systemDaysNow)).toBeLessThan(Number(systemDaysThen));
});

test('the days told are those the night sets when the line is cleaned', async () => {
  const [idea] = (await ideas()).filter(({ kind }) => kind === 'smooth_pipe');
  const told = Number(idea?.reasons[0]?.facts['systemDaysNow']);
  await t.house.stores.rows.insert('clean', {
    id: '00000000-0000-7000-8000-0000000c1ea0',
    line_id: idea?.lineId,
    cleaned_at: '2026-09-30T12:00:00Z',
    received_at: '2026-09-30T12:00:00Z',
    author: 'test',
  });
  await t.call('owner', {
    method: 'POST',
    url: '/v1/nightly-runs',
    payload: { businessDay: DAY, again: true },
  });
  await t.work();
  const { rows } = await t.pool.query('SELECT interval_days FROM trend WHERE line_id = $1', [idea?.lineId]);
  expect(Math.abs(rows[0].interval_days - told)).toBeLessThanOrEqual(2);
});
