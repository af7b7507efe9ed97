import { randomUUID } from 'node:crypto';
import sharp from 'sharp';
import { beforeAll, expect, test } from 'vitest';
import { prefersPdf } from '../../src/http/paperAnswer.js';
import { readPdf } from '../papers/readPdf.js';
import { readXml } from '../papers/readSvg.js';
import { clipWithPlace } from '../setup/clip.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: RoutedHouse;
let technician: string;
let clientId: string;

const PDF = { accept: 'application/pdf' };

/** The visit of 1 October to 1 Marsh Gate: jetted from 40 % to 5 %, water caught, a fence post found. */
beforeAll(async () => {
  t = await routedHouse();
  const { rows } = t.house.stores;
  technician = await t.keyOf('Tern');
  await owner('PATCH', '/v1/settings', {
    papers: { businessName: 'Alder Quay Drainworks', officePhone: '555 0100', licence: 'WR-D-0417' },
  });
  clientId = randomUUID();
  await rows.insert('client', { id: clientId, name: 'Őrsi & Ξάνθη' });
  await rows.insert('site_client', {
    id: randomUUID(),
    site_id: t.own.siteId,
    client_id: clientId,
    from_day: '2026-03-01',
  });
  await rows.insert('access_point', {
    id: randomUUID(),
    site_id: t.own.siteId,
    line_id: t.own.lineId,
    kind: 'outlet',
    place: 'behind the willow',
    kit_can_enter: ['jetter'],
  });
  await rows.insert('decision', {
    id: randomUUID(),
    site_id: t.own.siteId,
    line_ids: [t.own.lineId],
    task: 'add_cleanout',
    kind: 'refusal',
    decided_by: 'R. Oakley',
    decided_on: '2026-09-01',
    risk_told: 'the far end cannot be reached',
  });
  await rows.insert('work_order_task', {
    id: randomUUID(),
    work_order_id: t.orderId,
    position: 1,
    kind: 'jet',
    line_id: t.own.lineId,
    minutes: 30,
    plan: JSON.stringify({ passes: 3, lengthM: 30 }),
  });
});

async function owner(method: 'PATCH', url: string, payload: object) {
  const { headers } = await t.call('owner', { method: 'GET', url });
  const answer = await t.call('owner', {
    method,
    url,
    payload,
    headers: { 'if-match': String(headers['etag']) },
  });
  expect(answer.status, answer.text).toBe(200);
}

const plain = (words: string): string => words.replaceAll(/[\u00A0\u202F]/g, ' ');

async function page(url: string): Promise<string> {
  const { status, headers, text } = await t.call('dispatcher', {
    method: 'GET',
    url,
    headers: { accept: 'text/html' },
  });
  expect(status, text).toBe(200);
  expect(headers['content-type']).toBe('text/html; charset=utf-8');
  expect(headers['content-security-policy']).toContain("default-src 'none'");
  return plain(readXml(text.replace('<!DOCTYPE html>\n', '').trimEnd()).text);
}

async function pdf(url: string) {
  const answer = await t.app.inject({
    method: 'GET',
    url,
    headers: { authorization: `Bearer ${t.keys.dispatcher}`, ...PDF },
  });
  expect(answer.statusCode, answer.body.slice(0, 200)).toBe(200);
  expect(answer.headers['content-type']).toBe('application/pdf');
  expect(answer.headers['content-disposition']).toMatch(/^inline; filename="[\w.-]+\.pdf"$/);
  return readPdf(answer.rawPayload);
}

test('Accept chooses; without a wish it is a page', () => {
  expect(prefersPdf()).toBe(false);
  expect(prefersPdf('application/pdf')).toBe(true);
  expect(prefersPdf('text/html, application/pdf;q=0.5')).toBe(false);
  expect(prefersPdf('text/html;q=0.3,application/pdf;q=0.9')).toBe(true);
  expect(prefersPdf('text/html,application/xhtml+xml,*/*;q=0.8')).toBe(false);
});

test('the sheet of a stored route: people, access, last reading, plan and cautions, in both forms', async () => {
  const url = `/v1/routes/${t.routeId}/sheet`;
  const { rows } = t.house.stores;
  await rows.insert('note', {
    id: randomUUID(),
    site_id: t.own.siteId,
    text: 'key under the third pot',
    author: 'Wren',
    author_id: randomUUID(),
    noted_at: '2026-09-01T15:00:00Z',
  });
  const words = await page(url);
  for (const said of [
    'key under the third pot (1 Sep 2026, Wren)',
    // The sketch of its system, of which a point of access is known.
    'Not to scale. Water runs from left to right.',
    'Alder Quay Drainworks · office 555 0100',
    'Heron, Thu 1 Oct 2026',
    'Tern',
    // 14:00 to 15:00 UTC in Chicago.
    '9:00–10:00',
    'outlet: behind the willow, takes jetter',
    'jet: Drain (footing drain), 30 min — 3 passes',
    '30 m long',
    'never read',
    'A water jet pierces skin.',
    'Follow local codes',
  ])
    expect(words).toContain(said);
  const { pages } = await pdf(url);
  expect(pages.length).toBeLessThanOrEqual(3);
  expect(pages.join(' ')).toContain('behind the willow');
  expect(await page(`${url}?units=us`)).toContain('9:00 am–10:00 am');
});

test('a technician prints the own route and no other’s, and no paper of the office', async () => {
  const as = (url: string) => t.app.inject({ url, headers: { authorization: `Bearer ${technician}` } });
  expect((await as(`/v1/routes/${t.routeId}/sheet`)).statusCode).toBe(200);
  const { rows } = t.house.stores;
  const [depot] = await rows.all('depot', []);
  const [plan] = await rows.all('plan', []);
  const [crewId, routeId] = [randomUUID(), randomUUID()];
  await rows.insert('crew', { id: crewId, name: 'Plover', depot_id: depot?.['id'], people: 2 });
  await rows.insert('route', {
    id: routeId,
    plan_id: plan?.['id'],
    crew_id: crewId,
    day: '2026-10-01',
    state: 'live',
  });
  expect((await as(`/v1/routes/${routeId}/sheet`)).statusCode).toBe(404);
  expect(await page(`/v1/routes/${routeId}/sheet`)).toContain('No stops on this day.');
  expect((await as(`/v1/work-orders/${t.orderId}/report`)).statusCode).toBe(403);
});

test('nobody has been there: there is no report yet', async () => {
  const { status, body } = await t.call('dispatcher', {
    method: 'GET',
    url: `/v1/work-orders/${t.orderId}/report`,
  });
  expect([status, body.errors[0].detail]).toEqual([422, 'nobody has been there for this order yet']);
});

test('the report of a visit: before and after, water, what comes next, what was declined, photographs', async () => {
  const { rows } = t.house.stores;
  t.clock.at = new Date('2026-10-01T16:00:00Z');
  await visit();
  const photograph = await sharp({ create: { width: 60, height: 40, channels: 3, background: '#8a4b00' } })
    .jpeg()
    .toBuffer();
  for (const [caption, forClient] of [
    ['Outlet before', true],
    ['Desk only', false],
  ] as const)
    await attach(caption, forClient, photograph);
  // A clip has a copy for clients as well, and is nothing to print.
  await attach('Jetter at work', true, clipWithPlace([photograph], 'mp4').bytes);
  const url = `/v1/work-orders/${t.orderId}/report`;
  const words = await page(url);
  for (const said of [
    'Our visit on Thu 1 Oct 2026',
    'Őrsi & Ξάνθη · 1 Marsh Gate, Brindle',
    'Heron: done. Water was seen to run through at the end.',
    '40 % blocked (camera)',
    '5 % blocked (camera)',
    '3 passes, slugs of deposit',
    'jet: Drain (footing drain) – done.',
    'Water: caught and taken away, about 300 L. Sludge: about 12 L to Quay works.',
    'order 1 · printed 1 Oct 2026',
    'The day of the next visit is set in the night after this one.',
    'R. Oakley declined “add a cleanout” for Drain. The risk that was told: the far end cannot be reached.',
    'Outlet before · Drain',
    'do not enter it',
    'phone us at once',
  ])
    expect(words).toContain(said);
  expect(words).not.toContain('Desk only');
  expect(words).not.toContain('Jetter at work');
  const { pages } = await pdf(url);
  expect(pages.length).toBeLessThanOrEqual(3);
  expect(pages.join(' ')).toContain('40 % blocked');

  // The night has reckoned with the visit: a day and its reason.
  await rows.insert('fit', FIT);
  const reckoned = {
    ...TREND,
    line_id: t.own.lineId,
    fit_id: FIT.id,
    due_on: '2027-01-20',
    due_rule: 'hardening',
  };
  await rows.insert('trend', reckoned);
  expect(await page(url)).toContain(
    'State of 1 Oct 2026: We come again by 20 Jan 2027: the soft deposit in your footing drain turns hard when it is left longer.',
  );
});

test('a report stays what it was when more is known: the day told then, and the state of the day of printing', async () => {
  const { rows } = t.house.stores;
  const url = `/v1/work-orders/${t.orderId}/report`;
  await t.pool.query("SELECT make_trend_history_partition('2026-10-02')");
  await rows.insert('trend_history', {
    line_id: t.own.lineId,
    as_of: '2026-10-02',
    fit_id: FIT.id,
    engine_version: 'none',
    evidence_hash: '',
    because: 'evidence',
    occlusion: 0.05,
    occlusion_sd: 0.02,
    rate_per_month: 0.05,
    action_limit: 0.45,
    plug_limit: 0.9,
    // 2 October and 61 days.
    action_q50_on: '2026-12-02',
    readings_used: 2,
    due_on: '2026-11-30',
    due_rule: 'risk',
  });
  const [then] = await rows.all('inspection', [{ column: 'line_id', is: '=', value: t.own.lineId }]);
  const later = {
    ...then,
    id: randomUUID(),
    work_order_id: null,
    observed_at: '2026-10-20T14:00:00Z',
    phase: 'before_cleaning',
    occlusion: 0.66,
    raw: '{}',
    notes: '[]',
  };
  await rows.insert('inspection', later);
  await rows.insert('clean', {
    id: randomUUID(),
    line_id: t.own.lineId,
    author: 'Tern',
    cleaned_at: '2026-10-20T15:00:00Z',
  });
  t.clock.at = new Date('2026-11-26T16:00:00Z');
  // No night has reckoned with the later clean: only what was told then stands.
  expect(await page(url)).not.toContain('State of');
  await t.pool.query(`UPDATE trend SET as_of = '2026-10-21', due_on = '2027-02-03' WHERE line_id = $1`, [
    t.own.lineId,
  ]);
  const words = await page(url);
  for (const said of [
    'printed 26 Nov 2026',
    'We come again by 30 Nov 2026: your footing drain fills up in about two months (reckoned 2 Oct 2026).',
    'State of 26 Nov 2026: we were at your house again on 20 Oct 2026. We come again by 3 Feb 2027',
    'up to the visit of 1 Oct 2026',
    '1 Oct 2026: 40 %',
  ])
    expect(words).toContain(said);
  // Neither the reading nor the clean of 20 October is drawn into the paper of 1 October.
  expect(words).not.toContain('66 %');
  // Whose house it is no more is told nothing of what comes.
  await t.pool.query(`UPDATE site_client SET to_day = '2026-11-01' WHERE client_id = $1`, [clientId]);
  const sold = await page(url);
  expect(sold).toContain('30 Nov 2026');
  expect(sold).not.toContain('3 Feb 2027');
  await t.pool.query('UPDATE site_client SET to_day = NULL WHERE client_id = $1', [clientId]);
  await t.pool.query('DELETE FROM clean WHERE work_order_id IS NULL');
  await t.pool.query('DELETE FROM inspection WHERE id = $1', [later.id]);
  t.clock.at = new Date('2026-10-01T16:00:00Z');
});

test('a client’s year: visits, lines, water, and only the client’s own part of it', async () => {
  const words = await page(`/v1/clients/${clientId}/summary?year=2026`);
  for (const said of [
    'Your drains in 2026',
    '1 house · 1 visit · no plug found',
    'up to 1 Oct 2026',
    '40 %',
    'about 300 L',
  ])
    expect(words).toContain(said);
  expect((await pdf(`/v1/clients/${clientId}/summary?year=2026&units=us`)).size).toEqual([612, 792]);
  expect(await page(`/v1/clients/${clientId}/summary?year=2025`)).toContain(
    'No house of yours was in our care in 2025.',
  );
  const gone = randomUUID();
  await t.house.stores.rows.insert('client', { id: gone, name: 'A. Reed' });
  await t.house.stores.rows.insert('site_client', {
    id: randomUUID(),
    site_id: t.own.siteId,
    client_id: gone,
    from_day: '2025-01-01',
    to_day: '2026-03-01',
  });
  const theirs = await page(`/v1/clients/${gone}/summary?year=2026`);
  expect(theirs).toContain('No visit in this year.');
  expect(theirs).not.toContain('20 Jan 2027');
  expect(await page(`/v1/clients/${gone}/summary?year=2024`)).toContain('No house of yours');
  const get = (url: string) => t.call('dispatcher', { method: 'GET', url });
  expect((await get(`/v1/clients/${clientId}/summary`)).status).toBe(400);
  expect((await get(`/v1/clients/${randomUUID()}/summary?year=2026`)).status).toBe(404);
});

test('a year counts its visits as the money does: days with an order done or a clean, with the water of both', async () => {
  t.clock.at = new Date('2026-12-01T16:00:00Z');
  const { rows } = t.house.stores;
  await t.pool.query(`UPDATE work_order SET state = 'done', done_at = '2026-10-01T15:00:00Z' WHERE id = $1`, [
    t.orderId,
  ]);
  const alone = { line_id: t.own.lineId, author: 'books' };
  for (const [day, water] of [
    ['2026-04-02', 200],
    ['2026-07-02', null],
  ] as const)
    await rows.insert('clean', {
      id: randomUUID(),
      ...alone,
      cleaned_at: `${day}T15:00:00Z`,
      water_l: water,
    });
  const words = await page(`/v1/clients/${clientId}/summary?year=2026`);
  expect(words).toContain('1 house · 3 visits ·');
  expect(words).toContain('2 Apr 2026–cleandone');
  // 300 L under the order and 200 L of the clean that no order tells of.
  expect(words).toContain('about 500 L');
  expect(words).toContain('Of 1 visit nobody wrote down how much water was used.');
  const { body } = await t.call('owner', {
    method: 'GET',
    url: `/v1/reports/earnings?by=client&clientId=${clientId}&fromDay=2026-03-01&toDay=2026-12-01`,
  });
  expect(body.items).toMatchObject([{ id: clientId, visits: 3 }]);
  await t.pool.query('DELETE FROM clean WHERE work_order_id IS NULL');
  t.clock.at = new Date('2026-10-01T16:00:00Z');
});

test('a reading on the review list is no proof: it is told as being checked, a dismissed one as a slip', async () => {
  const { rows } = await t.pool.query(
    `SELECT id, line_id FROM inspection WHERE work_order_id = $1 AND phase = 'after_cleaning'`,
    [t.orderId],
  );
  await t.pool.query(
    `INSERT INTO reading_review (inspection_id, line_id, weight, suspicion) VALUES ($1, $2, 0.05, 'test')`,
    [rows[0].id, rows[0].line_id],
  );
  const report = `/v1/work-orders/${t.orderId}/report`;
  const summary = `/v1/clients/${clientId}/summary?year=2026`;
  for (const words of [await page(report), await page(summary)]) {
    expect(words).toContain('being checked');
    expect(words).not.toContain('5 % blocked');
    expect(words).toContain('40 %');
  }
  await t.pool.query(`UPDATE reading_review SET verdict = 'dismissed' WHERE inspection_id = $1`, [
    rows[0].id,
  ]);
  const words = await page(report);
  expect(words).toContain('taken back since: a slip');
  expect(words).not.toContain('being checked');
  await t.pool.query('DELETE FROM reading_review WHERE inspection_id = $1', [rows[0].id]);
});

test('the discharge log of a period: entries, sums by receiver, what lacks its reference', async () => {
  await water({
    receiver: 'storm_drain',
    place: 'Quay Side inlet',
    water_l: 100,
    at: '2026-10-02T15:00:00Z',
  });
  const words = await page('/v1/discharge-log?from=2026-10-01&to=2026-10-31');
  for (const said of [
    '1 Oct 2026 to 31 Oct 2026 · 2 entries',
    'storm drain: Quay Side inlet',
    'Business: Alder Quay Drainworks',
    'Address: MISSING: set it at PATCH /v1/settings, papers.businessAddress',
    'Licence or registration: WR-D-0417',
    'MISSING in 1 entry of 2: where caught water was taken.',
    'MISSING in 1 entry of 2: reference in writing',
    'about 300 L',
  ])
    expect(words).toContain(said);
  // 300 L / 3.785411784 = 79.25 gal
  expect((await pdf('/v1/discharge-log?from=2026-10-01&to=2026-10-31&units=us')).pages.join(' ')).toContain(
    'about 79 gal',
  );
  expect(await page('/v1/discharge-log?from=2025-01-01&to=2025-12-31')).toContain(
    'No water was let go in this period.',
  );
  const { status, body } = await t.call('owner', {
    method: 'GET',
    url: '/v1/discharge-log?from=2026-10-02&to=2026-10-01',
  });
  expect([status, body.errors[0].pointer]).toEqual([400, '#/querystring:to']);
});

test('the document tells both media types', async () => {
  const { paths } = (await t.call(null, { method: 'GET', url: '/docs/json' })).body as Json;
  for (const path of [
    '/v1/routes/{id}/sheet',
    '/v1/work-orders/{id}/report',
    '/v1/clients/{id}/summary',
    '/v1/discharge-log',
  ])
    expect(Object.keys(paths[path].get.responses['200'].content)).toEqual(['text/html', 'application/pdf']);
});

async function visit(): Promise<void> {
  const { rows } = t.house.stores;
  const [stop] = await rows.all('stop', []);
  const [route] = await rows.all('route', [{ column: 'id', is: '=', value: t.routeId }]);
  const of = { line_id: t.own.lineId, work_order_id: t.orderId, author: 'Tern' };
  await rows.insert('attempt', {
    id: randomUUID(),
    work_order_id: t.orderId,
    stop_id: stop?.['id'],
    crew_id: route?.['crew_id'],
    author: 'Tern',
    started_at: '2026-10-01T14:00:00Z',
    ended_at: '2026-10-01T15:00:00Z',
    result: 'done',
    flow_proven: 'yes',
  });
  const reading = { ...of, method: 'camera', raw: '{}', conversion_version: 1, standard_error: 0.05 };
  const before = { observed_at: '2026-10-01T14:05:00Z', phase: 'before_cleaning', occlusion: 0.4 };
  const after = { observed_at: '2026-10-01T14:50:00Z', phase: 'after_cleaning', occlusion: 0.05 };
  await rows.insert('inspection', { id: randomUUID(), ...reading, ...before });
  await rows.insert('inspection', { id: randomUUID(), ...reading, ...after });
  await rows.insert('clean', {
    id: randomUUID(),
    ...of,
    cleaned_at: '2026-10-01T14:40:00Z',
    task: 'jet',
    passes: 3,
    came_back: 'slugs',
  });
  await t.pool.query(`UPDATE work_order_task SET result = 'done', open = false WHERE work_order_id = $1`, [
    t.orderId,
  ]);
  await water({
    receiver: 'caught',
    water_l: 300,
    sludge_l: 12,
    sludge_to: 'Quay works',
    at: '2026-10-01T14:45:00Z',
  });
}

const water = (row: object) =>
  t.house.stores.rows.insert('water_record', {
    id: randomUUID(),
    work_order_id: t.orderId,
    phase: 'recorded',
    author: 'Tern',
    ...row,
  });

async function attach(caption: string, forClient: boolean, bytes: Buffer): Promise<void> {
  const { body } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/attachments',
    payload: {
      siteId: t.own.siteId,
      lineId: t.own.lineId,
      workOrderId: t.orderId,
      caption,
      forClient,
      takenAt: '2026-10-01T14:05:00Z',
    },
  });
  const head =
    '--b\r\nContent-Disposition: form-data; name="file"; filename="p.jpg"\r\nContent-Type: image/jpeg\r\n\r\n';
  const answer = await t.app.inject({
    method: 'PUT',
    url: `/v1/attachments/${body.id}/file`,
    headers: {
      authorization: `Bearer ${t.keys.dispatcher}`,
      'content-type': 'multipart/form-data; boundary=b',
    },
    payload: Buffer.concat([Buffer.from(head), bytes, Buffer.from('\r\n--b--\r\n')]),
  });
  expect(answer.statusCode, answer.body).toBe(200);
}

const FIT = {
  id: randomUUID(),
  as_of: '2026-10-02',
  kind: 'nightly',
  engine_version: 'none',
  parameters: '{}',
  lines: 1,
  readings: 2,
};
const TREND = {
  as_of: '2026-10-02',
  engine_version: 'none',
  evidence_hash: '',
  occlusion: 0.05,
  occlusion_sd: 0.02,
  occlusion_q10: 0.02,
  occlusion_q90: 0.08,
  rate_per_month: 0.05,
  rate_q10: 0.03,
  rate_q90: 0.08,
  action_limit: 0.45,
  plug_limit: 0.9,
  action_chance_30d: 0,
  action_chance_due: 0.1,
  plug_chance_due: 0,
  plug_chance_year: 0.02,
  readings_used: 2,
  components: '[]',
};
