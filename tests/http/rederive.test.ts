import { beforeAll, expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { rederiveOutdated } from '../../src/actions/rederive.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { blockedShareOfDepth } from '../../src/domain/hydraulics/segment.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
let site: Json;
let pit: Json;
let line: Json;
let section: Json;

async function post(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.call('dispatcher', { method: 'POST', url, payload });
  expect(answer.status, answer.text).toBe(status);
  return answer.body;
}
async function patch(url: string, version: number, payload: object): Promise<Json> {
  const answer = await t.call('dispatcher', {
    method: 'PATCH',
    url,
    payload,
    headers: { 'if-match': `"${version}"` },
  });
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
const read = async (id: string): Promise<Json> =>
  (await t.call('owner', { method: 'GET', url: `/v1/inspections/${id}` })).body;
const inspect = (observedAt: string, phase: string, reading: object) =>
  post('/v1/inspections', { lineId: line.id, observedAt, phase, reading });

beforeAll(async () => {
  t = await testHouse();
  site = await post('/v1/sites', { address: '3 Marsh Gate', town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Discharge',
    kind: 'sump_discharge',
    length: { value: 60, unit: 'ft' },
    lift: { value: 9, unit: 'ft' },
  });
  section = await post('/v1/line-sections', {
    lineId: line.id,
    material: 'pvc',
    bore: { value: 2, unit: 'in' },
  });
  pit = await post('/v1/pits', {
    siteId: site.id,
    systemId: system.id,
    dischargeLineId: line.id,
    diameter: { value: 18, unit: 'in' },
    inflow: { value: 15, unit: 'gpm' },
  });
});

test('a corrected bore changes what an old depth means, never what was read', async () => {
  const made = await inspect('2026-09-01T09:00:00Z', 'no_cleaning', {
    method: 'outlet_depth',
    depth: { value: 0.5, unit: 'in' },
  });
  expect(made.occlusion).toBeCloseTo(blockedShareOfDepth(0.25), 9);
  section = await patch(`/v1/line-sections/${section.id}`, section.version, {
    bore: { value: 1, unit: 'in' },
  });
  const half = await read(made.id);
  expect(half.occlusion).toBeCloseTo(0.5, 9);
  expect(half.raw).toEqual(made.raw);
  // Deeper than the bore: it says nothing any more, and says so.
  section = await patch(`/v1/line-sections/${section.id}`, section.version, {
    bore: { value: 0.4, unit: 'in' },
  });
  const none = await read(made.id);
  expect(none.occlusion).toBeNull();
  expect(none.notes[0].code).toBe('does-not-fit-the-line');
  section = await patch(`/v1/line-sections/${section.id}`, section.version, {
    bore: { value: 1.592, unit: 'in' },
  });
  expect((await read(made.id)).occlusion).toBeCloseTo(blockedShareOfDepth(0.5 / 1.592), 9);
});

test('a draw-down follows its clean reference when that comes late or is withdrawn', async () => {
  const fall = (value: number) => ({
    method: 'pit_drawdown',
    rise: { value: 20, unit: 'mm' },
    fall: { value, unit: 'mm' },
  });
  const later = await inspect('2026-09-20T09:00:00Z', 'before_cleaning', fall(40));
  expect(later.notes[0].code).toBe('no-clean-reference');
  const clean = await inspect('2026-09-10T09:00:00Z', 'after_cleaning', fall(100));
  const compared = await read(later.id);
  // half of what the clean line let through: well past a third of the bore
  expect(compared.occlusion).toBeGreaterThan(0.5);
  expect(compared.notes.map((note: Json) => note.code)).not.toContain('no-clean-reference');
  // length, lift and bore are known here, the pump's curve is not
  expect(compared.notes.map((note: Json) => note.code)).toContain('facts-assumed');
  await post('/v1/pumps', {
    pitId: pit.id,
    curve: [
      { flow: { value: 0, unit: 'L/s' }, head: { value: 6.7, unit: 'm' } },
      { flow: { value: 2.27, unit: 'L/s' }, head: { value: 3.05, unit: 'm' } },
      { flow: { value: 3.07, unit: 'L/s' }, head: { value: 0.02, unit: 'm' } },
    ],
  });
  const known = await read(later.id);
  expect(known.notes).toEqual([]);
  expect(known.standardError).toBeLessThan(compared.standardError);
  await post(`/v1/inspections/${clean.id}/withdrawal`, { because: 'wrong house' }, 200);
  expect((await read(later.id)).notes[0].code).toBe('no-clean-reference');
});

test('what an older formula derived is derived again, once', async () => {
  const made = await inspect('2026-09-02T09:00:00Z', 'no_cleaning', { method: 'camera', share: 0.3 });
  await t.pool.query('UPDATE inspection SET conversion_version = 1, occlusion = .77 WHERE id = $1', [
    made.id,
  ]);
  const run = () => t.house.transact({ name: 'test' }, rederiveOutdated);
  expect(await run()).toBeGreaterThan(0);
  expect((await read(made.id)).occlusion).toBe(0.3);
  expect(await run()).toBe(0);
});

test('what a crew says in one tap comes in: timings, where the nozzle stopped, what came back', async () => {
  const fill = { method: 'timed_fill', volume: { value: 5, unit: 'gal' }, seconds: 12 };
  const once = await inspect('2026-09-03T09:00:00Z', 'no_cleaning', fill);
  const often = await inspect('2026-09-03T10:00:00Z', 'no_cleaning', { ...fill, timings: 4 });
  expect(often.raw.timings).toBe(4);
  expect(often.standardError).toBeLessThanOrEqual(once.standardError);
  const stopped = await inspect('2026-09-04T09:00:00Z', 'before_cleaning', {
    method: 'passes_to_clear',
    nozzleStopped: { value: 20, unit: 'ft' },
  });
  expect([stopped.bound, stopped.raw.nozzleStoppedAtM]).toEqual(['at_least', 6.096]);
  const thick = await inspect('2026-09-05T09:00:00Z', 'before_cleaning', {
    method: 'by_word',
    cameBack: 'thick',
  });
  expect(thick.occlusion).toBeGreaterThan(0.5);
});

test('points of a pump curve are quantities, in whatever unit they come and are asked for', async () => {
  const pump = await post('/v1/pumps', {
    pitId: pit.id,
    duty: 'backup',
    curve: [
      { flow: { value: 0, unit: 'gpm' }, head: { value: 22, unit: 'ft' } },
      { flow: { value: 36, unit: 'gpm' }, head: { value: 10, unit: 'ft' } },
    ],
  });
  // 36 gpm are 2.2712 L/s; 22 ft and 10 ft are 6.7056 m and 3.048 m
  const { rows } = await t.pool.query('SELECT curve FROM pump WHERE id = $1', [pump.id]);
  expect(rows[0].curve[0].headM).toBeCloseTo(6.7056, 9);
  expect(rows[0].curve[1].flowLps).toBeCloseTo(2.2712, 4);
  expect(pump.curve[1].head).toEqual({ value: 3.048, unit: 'm' });
  const us = (await t.call('dispatcher', { method: 'GET', url: `/v1/pumps/${pump.id}?units=us` })).body;
  expect(us.curve[1].flow.unit).toBe('gpm');
  expect(us.curve[1].flow.value).toBeCloseTo(36, 9);
  expect(us.curve[0].head).toEqual({ value: 22, unit: 'ft' });
  const bare = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/pumps',
    payload: { pitId: pit.id, curve: [{ flowLps: 1, headM: 2 }] },
  });
  expect(bare.status).toBe(400);
});

test('a pump curve that rises is refused at its door; a product and size give bore and material', async () => {
  const bad = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/pumps',
    payload: {
      pitId: pit.id,
      curve: [
        { flow: { value: 0, unit: 'L/s' }, head: { value: 3, unit: 'm' } },
        { flow: { value: 1, unit: 'L/s' }, head: { value: 4, unit: 'm' } },
      ],
    },
  });
  expect([bad.status, bad.body.errors[0].pointer]).toEqual([422, '#/curve']);
  const other = await post('/v1/lines', {
    siteId: site.id,
    systemId: line.systemId,
    name: 'North',
    kind: 'footing_drain',
  });
  const made = await post('/v1/line-sections', { lineId: other.id, product: 'sdr_35', nominal: '4' });
  expect(made.material).toBe('pvc');
  expect(made.bore.value).toBeCloseTo(100.965, 3);
  const odd = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/line-sections',
    payload: { lineId: other.id, product: 'sdr_35', nominal: '3' },
  });
  expect([odd.status, odd.body.errors[0].pointer]).toEqual([422, '#/nominal']);
});

test('the night lowers the action limit of a discharge that must carry much, and says why', async () => {
  const run = await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: {} });
  expect(run.status, run.text).toBe(202);
  await t.work();
  const { body } = await t.call('owner', { method: 'GET', url: `/v1/lines/${line.id}/trend` });
  // 1.5 times 15 gpm of a pump that moves about 29 clean: the usual .40 is too late
  expect(body.trend.limits.action).toBeLessThan(0.4);
  const reason = body.trend.dueReasons.find((each: Json) => each.code === 'line-no-longer-carries');
  expect(reason.facts.actionLimit).toBe(body.trend.limits.action);
});

test('a line of imported books can be corrected, and its readings stay what they were', async () => {
  const { base } = demoBusiness(1, '2026-09-30');
  await importClientBase(t.house, { name: 'test' }, { base, source: 'books', asOf: '2026-09-30' });
  // As an earlier release kept them: the share alone.
  await t.pool.query(`ALTER TABLE inspection DISABLE TRIGGER USER`);
  await t.pool.query(
    `UPDATE inspection SET raw = raw - 'method' WHERE source = 'books' AND id IN (SELECT id FROM inspection WHERE source = 'books' ORDER BY id LIMIT 500)`,
  );
  await t.pool.query(`ALTER TABLE inspection ENABLE TRIGGER USER`);
  const { rows: lines } = await t.pool.query(
    `SELECT l.id, l.version, l.kind FROM line l WHERE source = 'books' AND (SELECT count(*) FROM inspection i WHERE i.line_id = l.id AND i.occlusion IS NOT NULL) > 2 ORDER BY l.id LIMIT 12`,
  );
  const found = async () =>
    (
      await t.pool.query(
        'SELECT id, occlusion, standard_error, bound FROM inspection WHERE line_id = ANY ($1) ORDER BY id',
        [lines.map(({ id }) => id)],
      )
    ).rows;
  const before = await found();
  for (const { id, version } of lines)
    await patch(`/v1/lines/${id}`, version, { length: { value: 21, unit: 'm' } });
  expect(await found()).toEqual(before);
  expect(before.length).toBeGreaterThan(30);
  const discharge = lines.find(({ kind }) => kind === 'sump_discharge');
  await post('/v1/inspections', {
    lineId: discharge.id,
    observedAt: '2026-09-30T15:00:00Z',
    phase: 'after_cleaning',
    reading: {
      method: 'pit_drawdown',
      rise: { value: 1, unit: 'in' },
      fall: { value: 5, unit: 'in' },
    },
  });
});
