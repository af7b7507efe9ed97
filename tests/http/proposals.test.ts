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
  corrugated = await t.line(site, { main_material: 'corrugated_hdpe', length_m: 20 });
  // The nozzle got no further than 12 m of 20, twice.
  for (const day of ['2026-05-01', '2026-08-01']) await t.clean(corrugated, day, { nozzle_stopped_m: 12 });
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

test('what the records speak for', async () => {
  const all = await ideas();
  expect(all.map((each: { kind: string }) => each.kind)).toEqual(['cleanout', 'alarm']);
  expect(all[0]).toMatchObject({ lineId: corrugated, open: false, visitsSavedPerYear: null });
  expect(all[1]).toMatchObject({ pitId: pit, visitsSavedPerYear: null });
});

test('from draft to answer: evidence is kept, one open proposal a kind, answered once', async () => {
  const id = randomUUID();
  const asked = { id, siteId: site, kind: 'cleanout', lineId: corrugated, priceMinor: 450_000 };
  const drafted = await post('', asked);
  expect(drafted.status, drafted.text).toBe(201);
  expect(drafted.body).toMatchObject({ state: 'drafted', evidence: [{ code: 'nozzle_stops' }] });
  expect((await post('', asked)).body.id).toBe(id);
  const twice = await post('', { siteId: site, kind: 'cleanout', lineId: corrugated });
  expect(twice.status).toBe(409);
  expect(twice.body.errors?.[0] ?? twice.body.detail).toBeDefined();
  expect((await ideas())[0]).toMatchObject({ kind: 'cleanout', open: true });

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
  const again = await post('', { siteId: site, kind: 'cleanout', lineId: corrugated });
  expect(again.status).toBe(201);
  expect((await post(`/${again.body.id}/withdrawal`, { because: 'wrong line' })).body.state).toBe(
    'withdrawn',
  );

  const counts = await t.call('owner', { method: 'GET', url: '/v1/reports/proposals' });
  expect(counts.body.items).toEqual([
    expect.objectContaining({ kind: 'cleanout', state: 'declined', count: 1, priceMinor: 450_000 }),
    expect.objectContaining({ kind: 'cleanout', state: 'withdrawn', count: 1 }),
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

const accepted = async (asked: object): Promise<string> => {
  const drafted = await post('', asked);
  expect(drafted.status, drafted.text).toBe(201);
  await post(`/${drafted.body.id}/offer`, { offeredOn: '2026-09-20' });
  const yes = await post(`/${drafted.body.id}/answer`, { answer: 'accepted', answeredBy: 'A. Reed' });
  expect(yes.status, yes.text).toBe(200);
  expect(yes.body.state).toBe('accepted');
  return yes.body.workOrderId;
};
const order = async (id: string) =>
  (await t.call('dispatcher', { method: 'GET', url: `/v1/work-orders/${id}` })).body;
const waits = async (id: string) =>
  Object.fromEntries(
    (await t.house.stores.rows.all('precondition', [{ column: 'work_order_id', is: '=', value: id }])).map(
      (row) => [row['kind'], row['state']],
    ),
  );

test('a smooth pipe accepted with its price is a dig whose quote is accepted, with restoration after it', async () => {
  const dug = await t.line(site, { main_material: 'corrugated_hdpe', length_m: 6, name: 'Smooth' });
  const id = await accepted({ siteId: site, kind: 'smooth_pipe', lineId: dug, priceMinor: 450_000 });
  const first = await order(id);
  expect(first).toMatchObject({ state: 'wanted', priceBasis: 'quote', priceMinor: 450_000 });
  expect(first.tasks.map(({ kind }: { kind: string }) => kind)).toEqual(['dig_and_replace', 'inspect']);
  expect(first.becauseOf[0].text).toContain('accepted a smooth pipe');
  expect(await waits(id)).toMatchObject({ quote_accepted: 'met', locate_ticket: 'open', parts: 'open' });
  const [next] = await t.house.stores.rows.all('work_order', [{ column: 'follows_id', is: '=', value: id }]);
  expect(next).toMatchObject({ price_minor: 0, follows_after_days: 42 });
});

test('a cleanout accepted without a price waits for its quote; ordered already, that order takes the answer', async () => {
  const line = await t.line(site, { length_m: 60, name: 'Long' });
  const id = await accepted({ siteId: site, kind: 'cleanout', lineId: line });
  expect((await order(id)).tasks.map(({ kind }: { kind: string }) => kind)).toEqual(['add_cleanout']);
  expect(await waits(id)).toMatchObject({ quote_accepted: 'open' });
  expect(await accepted({ siteId: site, kind: 'cleanout', lineId: line, priceMinor: 90_000 })).toBe(id);
  expect(await waits(id)).toMatchObject({ quote_accepted: 'met' });
  expect((await order(id)).priceMinor).toBe(90_000);
});

test('an alarm and a second pump are fitted by orders of their own; declined ones are on the client’s paper', async () => {
  const alarm = await accepted({ siteId: site, kind: 'alarm', pitId: pit, priceMinor: 20_000 });
  expect((await order(alarm)).tasks).toMatchObject([{ kind: 'fit_alarm', pitId: pit }]);
  expect(await waits(alarm)).toEqual({ quote_accepted: 'met', parts: 'open' });
  const { rows } = t.house.stores;
  for (const { id } of await rows.all('precondition', [{ column: 'work_order_id', is: '=', value: alarm }]))
    await rows.update('precondition', String(id), { state: 'met' });
  const at = '2026-10-01T11:00:00Z';
  const visit = (step: string, payload: object) =>
    t.call('owner', { method: 'POST', url: `/v1/work-orders/${alarm}/${step}`, payload });
  const begun = await visit('start', { startedAt: at, cautionsSeen: true });
  expect(begun.status, begun.text).toBe(200);
  const done = await visit('finish', {
    endedAt: '2026-10-01T11:40:00Z',
    result: 'done',
    flowProven: 'not_possible',
    pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
  });
  expect(done.status, done.text).toBe(200);
  const [pump] = await rows.all('pump', [{ column: 'pit_id', is: '=', value: pit }]);
  expect(pump?.['alarm']).toBe(true);
  const [open] = await rows.all('proposal', [
    { column: 'kind', is: '=', value: 'second_pump' },
    { column: 'state', is: '=', value: 'drafted' },
  ]);
  await post(`/${open?.['id']}/offer`, { offeredOn: '2026-09-21' });
  await post(`/${open?.['id']}/answer`, {
    answer: 'declined',
    answeredBy: 'A. Reed',
    because: 'one is enough',
  });
  const client = randomUUID();
  await t.house.stores.rows.insert('client', { id: client, name: 'Ines Calder' });
  await t.house.stores.rows.insert('site_client', { id: randomUUID(), site_id: site, client_id: client });
  const paper = await t.call('owner', { method: 'GET', url: `/v1/clients/${client}/summary?year=2026` });
  expect(paper.text).toContain('second pump');
  expect(paper.text).toContain('one is enough');
});

test('an answer whose order cannot be made leaves the proposal as it was', async () => {
  const line = await t.line(site, { length_m: 30, name: 'Broken' });
  const drafted = await post('', { siteId: site, kind: 'cleanout', lineId: line });
  await post(`/${drafted.body.id}/offer`, {});
  const refuse = `CREATE FUNCTION no_more() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'no'; END $$`;
  await t.pool.query(refuse);
  await t.pool.query(
    'CREATE TRIGGER no_more BEFORE INSERT ON work_order_task FOR EACH ROW EXECUTE FUNCTION no_more()',
  );
  const failed = await post(`/${drafted.body.id}/answer`, { answer: 'accepted', answeredBy: 'A. Reed' });
  await t.pool.query('DROP TRIGGER no_more ON work_order_task');
  expect(failed.status).toBe(500);
  expect((await t.house.stores.rows.get('proposal', drafted.body.id))?.['state']).toBe('offered');
});
