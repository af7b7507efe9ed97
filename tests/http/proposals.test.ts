import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { type ReportedLines, reportedLines } from '../setup/reportedLines.js';

let t: ReportedLines;
let site: string;
let corrugated: string;
let pit: string;

const post = (path: string, payload: object, headers = {}) =>
  t.call('owner', { method: 'POST', url: `/v1/proposals${path}`, payload, headers });

beforeAll(async () => {
  t = await reportedLines();
  site = await t.site({ basement: 'finished' });
  corrugated = await t.line(
    site,
    { main_material: 'corrugated_hdpe', length_m: 20 },
    { rate_per_month: 0.06, readings_used: 5, interval_days: 100 },
  );
  // Five PVC lines of its kind at a third of the rate.
  for (let i = 0; i < 5; i++) await t.line(site, { main_material: 'pvc' }, { rate_per_month: 0.02 });
  const system = randomUUID();
  await t.house.stores.rows.insert('system', { id: system, site_id: site, name: 'Pit', kind: 'pit' });
  pit = randomUUID();
  await t.house.stores.rows.insert('pit', { id: pit, site_id: site, system_id: system });
  await t.house.stores.rows.insert('pump', { id: randomUUID(), pit_id: pit, alarm: false });
  // A pit is asked for by its lines.
  await t.house.stores.rows.insert('line', {
    id: randomUUID(),
    site_id: site,
    system_id: system,
    name: 'Footing',
    kind: 'footing_drain',
  });
}, 60_000);

const ideas = async () =>
  (await t.call('owner', { method: 'GET', url: '/v1/reports/proposal-ideas' })).body.items;

test('what the records speak for, with the visits it would spare', async () => {
  const [pipe, alarm] = await ideas();
  // 365.25 / 100 visits, two thirds of them spared.
  expect(pipe).toMatchObject({ kind: 'smooth_pipe', lineId: corrugated, open: false });
  expect(pipe.visitsSavedPerYear).toBeCloseTo(2.435, 3);
  expect(alarm).toMatchObject({ kind: 'alarm', pitId: pit, visitsSavedPerYear: null });
});

test('from draft to answer: evidence is kept, one open proposal a kind, answered once', async () => {
  const id = randomUUID();
  const asked = { id, siteId: site, kind: 'smooth_pipe', lineId: corrugated, priceMinor: 450_000 };
  const drafted = await post('', asked);
  expect(drafted.status, drafted.text).toBe(201);
  expect(drafted.body).toMatchObject({ state: 'drafted', evidence: [{ code: 'fouls_faster' }] });
  expect(drafted.body.visitsSavedPerYear).toBeCloseTo(2.435, 3);
  expect((await post('', asked)).body.id).toBe(id);
  const twice = await post('', { siteId: site, kind: 'smooth_pipe', lineId: corrugated });
  expect(twice.status).toBe(409);
  expect(twice.body.errors?.[0] ?? twice.body.detail).toBeDefined();
  expect((await ideas())[0]).toMatchObject({ kind: 'smooth_pipe', open: true });

  const early = await post(`/${id}/answer`, { answer: 'accepted', answeredBy: 'A. Reed' });
  expect(early.status).toBe(409);
  expect((await post(`/${id}/offer`, { offeredOn: '2026-10-02' })).status).toBe(422);
  expect((await post(`/${id}/offer`, { offeredOn: '2026-09-20' })).body).toMatchObject({
    state: 'offered',
    offeredOn: '2026-09-20',
    offeredBy: 'owner',
  });
  const before = await post(`/${id}/answer`, {
    answer: 'declined',
    answeredBy: 'A. Reed',
    answeredOn: '2026-09-19',
  });
  expect(before.status).toBe(422);
  expect(before.body.errors[0].pointer).toBe('#/answeredOn');
  const declined = await post(`/${id}/answer`, {
    answer: 'declined',
    answeredBy: 'A. Reed',
    because: 'sells the house',
  });
  expect(declined.body).toMatchObject({
    state: 'declined',
    answeredOn: '2026-10-01',
    answerBecause: 'sells the house',
  });
  expect((await post(`/${id}/withdrawal`, { because: 'too late' })).status).toBe(409);
  // Answered: the same may be drafted anew, and taken back.
  const again = await post('', { siteId: site, kind: 'smooth_pipe', lineId: corrugated });
  expect(again.status).toBe(201);
  expect((await post(`/${again.body.id}/withdrawal`, { because: 'wrong line' })).body.state).toBe(
    'withdrawn',
  );

  const counts = await t.call('owner', { method: 'GET', url: '/v1/reports/proposals' });
  expect(counts.body.items).toEqual([
    expect.objectContaining({ kind: 'smooth_pipe', state: 'declined', count: 1, priceMinor: 450_000 }),
    expect.objectContaining({ kind: 'smooth_pipe', state: 'withdrawn', count: 1 }),
  ]);
  const list = await t.call('dispatcher', { method: 'GET', url: '/v1/proposals?state=declined' });
  expect(list.body.items.map((each: { id: string }) => each.id)).toEqual([id]);
});

test('a line for an alarm, another site’s line, an unknown one: refused with what would be right', async () => {
  const wrong = await post('', { siteId: site, kind: 'alarm', lineId: corrugated });
  expect(wrong.status).toBe(422);
  expect(wrong.body.errors[0]).toMatchObject({ pointer: '#/lineId', remedy: 'pitId alone' });
  const none = await post('', { siteId: site, kind: 'cleanout' });
  expect(none.body.errors[0]).toMatchObject({ pointer: '#/lineId', remedy: 'lineId alone' });
  const other = await t.site();
  expect((await post('', { siteId: other, kind: 'cleanout', lineId: corrugated })).status).toBe(422);
  expect((await post(`/${randomUUID()}/offer`, {})).status).toBe(404);
  expect((await post('', { siteId: site, kind: 'garage', lineId: corrugated })).status).toBe(400);
  const technician = await t.call('technician', { method: 'GET', url: '/v1/proposals' });
  expect(technician.status).toBe(403);
});

test('without evidence a proposal stands on judgement', async () => {
  const drafted = await post('', {
    siteId: site,
    kind: 'second_pump',
    pitId: pit,
    note: 'asked by the client',
  });
  expect(drafted.body).toMatchObject({ evidence: [], visitsSavedPerYear: null, pitId: pit });
});
