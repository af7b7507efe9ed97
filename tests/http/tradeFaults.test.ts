import { randomUUID } from 'node:crypto';
import { beforeAll, describe, expect, test } from 'vitest';
import { CLASHES, RULES } from '../../src/persistence/constraintWords.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: RoutedHouse;
beforeAll(async () => {
  t = await routedHouse();
});

const send = (url: string, payload: object) => t.call('dispatcher', { method: 'POST', url, payload });

async function made(url: string, payload: object): Promise<Json> {
  const answer = await send(url, payload);
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
}

async function refused(url: string, payload: object, pointer: string, status = 422): Promise<Json> {
  const answer = await send(url, payload);
  expect(answer.status, answer.text).toBe(status);
  expect(answer.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
  for (const { remedy } of answer.body.errors) expect(remedy).not.toMatch(/see the schema/);
  return answer.body;
}

const m = (value: number, unit = 'm') => ({ value, unit });

describe('from before to', () => {
  test.each([
    [
      '/v1/line-sections',
      () => ({ lineId: t.own.lineId, installedOn: '2020-01-02', removedOn: '2020-01-01' }),
      '#/removedOn',
    ],
    [
      '/v1/pumps',
      () => ({ pitId: t.own.pitId, installedOn: '2020-01-02', removedOn: '2020-01-01' }),
      '#/removedOn',
    ],
    [
      '/v1/care-terms',
      () => ({ siteId: t.own.siteId, fromDay: '2020-01-02', toDay: '2020-01-01' }),
      '#/toDay',
    ],
    [
      '/v1/closed-seasons',
      () => ({ tasks: ['jet'], fromDay: '2020-01-02', toDay: '2020-01-01', reason: 'frost' }),
      '#/toDay',
    ],
  ])('%s', async (url, body, pointer) => {
    await refused(url, body(), pointer);
  });

  test('ownership, crews, kit and shifts', async () => {
    const days = { fromDay: '2030-01-02', toDay: '2030-01-01' };
    const client = await made('/v1/clients', { name: 'A' });
    await refused('/v1/site-clients', { siteId: t.own.siteId, clientId: client.id, ...days }, '#/toDay');
    const depot = await made('/v1/depots', { name: 'Yard', latitude: 44, longitude: -90 });
    const crew = await made('/v1/crews', { name: 'Rail', depotId: depot.id });
    const item = await made('/v1/kit-items', { name: 'Jetter', kind: 'jetter' });
    await refused('/v1/crew-memberships', { crewId: crew.id, memberId: t.memberId, ...days }, '#/toDay');
    await refused('/v1/crew-kit', { crewId: crew.id, kitItemId: item.id, ...days }, '#/toDay');
    const shift = { crewId: crew.id, weekday: 'mon', startsAt: '08:00', endsAt: '16:00' };
    await refused('/v1/shifts', { ...shift, ...days }, '#/toDay');
    await refused('/v1/shifts', { ...shift, endsAt: '07:00', fromDay: '2026-01-01' }, '#/endsAt');
    await made('/v1/shifts', { ...shift, fromDay: '2026-01-01' });
    await refused('/v1/shifts', { ...shift, fromDay: '2026-02-01' }, '#/weekday', 409);
  });
});

describe('one site', () => {
  const found = (more: object) => ({
    lineId: t.own.lineId,
    observedAt: '2026-09-30T12:00:00Z',
    phase: 'no_cleaning',
    reading: { method: 'camera', share: 0.3 },
    ...more,
  });

  test('findings belong to an order of their site', async () => {
    await refused('/v1/inspections', found({ workOrderId: t.foreignOrderId }), '#/workOrderId');
    const clean = { lineId: t.own.lineId, cleanedAt: '2026-09-30T12:00:00Z' };
    await refused('/v1/cleans', { ...clean, workOrderId: t.foreignOrderId }, '#/workOrderId');
    await made('/v1/cleans', { ...clean, workOrderId: t.orderId });
  });

  test('terms, decisions and access points are about their own site', async () => {
    const lineIds = [t.own.lineId, t.foreign.lineId];
    await refused('/v1/care-terms', { siteId: t.own.siteId, fromDay: '2026-01-01', lineIds }, '#/lineIds/1');
    const decision = { siteId: t.own.siteId, kind: 'refusal', decidedBy: 'A. Reed', riskTold: 'flood' };
    await refused('/v1/decisions', { ...decision, decidedOn: '2026-09-01', lineIds }, '#/lineIds/1');
    const point = { siteId: t.own.siteId, kind: 'cleanout', place: 'by the hedge' };
    await refused('/v1/access-points', { ...point, lineId: t.foreign.lineId }, '#/lineId');
    await refused('/v1/access-points', { ...point, pitId: t.foreign.pitId }, '#/pitId');
    await made('/v1/access-points', { ...point, lineId: t.own.lineId });
  });

  test('what was read can be read there', async () => {
    await refused(
      '/v1/inspections',
      found({ reading: { method: 'pit_drawdown', rise: m(1, 'in'), fall: m(2, 'in') } }),
      '#/reading/method',
    );
    // The line is 30 m long.
    await refused(
      '/v1/inspections',
      found({ reading: { method: 'passes_to_clear', nozzleStopped: m(31) } }),
      '#/reading/nozzleStopped',
    );
    await refused('/v1/inspections', found({ distance: m(31) }), '#/distance');
    await refused('/v1/inspections', found({ distance: m(-1) }), '#/distance', 400);
    const clean = { lineId: t.own.lineId, cleanedAt: '2026-09-30T13:00:00Z' };
    await refused('/v1/cleans', { ...clean, task: 'survey' }, '#/task');
    await refused('/v1/cleans', { ...clean, nozzleStopped: m(120, 'ft') }, '#/nozzleStopped');
  });
});

describe('days and numbers that cannot be', () => {
  test('what has happened has a day up to today', async () => {
    const { lineId, siteId, systemId } = t.own;
    await refused(
      '/v1/sites',
      { address: '9 Marsh Gate', town: 'Brindle', builtOn: '2999-01-01' },
      '#/builtOn',
    );
    const line = { siteId, systemId, name: 'D', kind: 'footing_drain' };
    await refused('/v1/lines', { ...line, installedOn: '2999-01-01' }, '#/installedOn');
    await refused(
      '/v1/epochs',
      { lineId, startedOn: '2999-01-01', begins: 'clean', because: 'replaced' },
      '#/startedOn',
    );
    await refused(
      '/v1/regime-changes',
      { lineId, changedOn: '2999-01-01', cause: 'excavation' },
      '#/changedOn',
    );
    // The house's clock stands at 1 October 2026, 7:00 local.
    await refused(
      '/v1/regime-changes',
      { lineId, changedOn: '2026-10-02', cause: 'excavation' },
      '#/changedOn',
    );
    await made('/v1/regime-changes', { lineId, changedOn: '2026-10-01', cause: 'excavation' });
  });

  test('lengths, bores and volumes within what pipes and tanks are', async () => {
    const { siteId, systemId, lineId } = t.own;
    const line = { siteId, systemId, name: 'D', kind: 'footing_drain' };
    const bad = await refused('/v1/lines', { ...line, length: m(1e9, 'ft') }, '#/length', 400);
    expect(bad.errors[0].remedy).toContain('0.1 to 2000 m');
    await refused('/v1/lines', { ...line, length: m(0) }, '#/length', 400);
    // 6561.679 ft = 2000 m
    await made('/v1/lines', { ...line, length: m(6561.679, 'ft') });
    await refused('/v1/line-sections', { lineId, bore: m(3) }, '#/bore', 400);
    await refused('/v1/kit-items', { name: 'J', kind: 'jetter', tank: m(-1, 'gal') }, '#/tank', 400);
    await refused('/v1/line-sections', { lineId, from: m(5), to: m(4) }, '#/to');
    await refused('/v1/sites', { address: '9 Marsh Gate', town: 'Brindle', latitude: 44 }, '#/longitude');
  });
});

describe('promises and decisions', () => {
  test('a promise is of a day to come, one at a time, on work that still comes', async () => {
    // A Monday: the one day on which a crew has a shift.
    const promise = { workOrderId: t.orderId, day: '2026-10-05' };
    await refused('/v1/promises', { ...promise, day: '2026-09-30' }, '#/day');
    await refused('/v1/promises', { ...promise, fromTime: '10:00', toTime: '09:00' }, '#/toTime');
    const first = await made('/v1/promises', { ...promise, fromTime: '09:00', toTime: '10:00' });
    await refused('/v1/promises', promise, '#/workOrderId');
    const ended = await t.call('dispatcher', {
      method: 'PATCH',
      url: `/v1/promises/${first.id}`,
      payload: { endedAt: '2026-10-01T12:00:00Z', endedBecause: 'moved' },
      headers: { 'if-match': '*' },
    });
    expect(ended.status).toBe(200);
    await made('/v1/promises', promise);
    await t.house.stores.rows.update('work_order', t.foreignOrderId, {
      state: 'withdrawn',
      withdrawn_because: 'sold',
    });
    await refused('/v1/promises', { ...promise, workOrderId: t.foreignOrderId }, '#/workOrderId');
    await refused('/v1/promises', { ...promise, workOrderId: randomUUID() }, '#/workOrderId');
  });

  test('a decision was made, and a postponement is until a day', async () => {
    const decision = {
      siteId: t.own.siteId,
      decidedBy: 'A. Reed',
      riskTold: 'flood',
      decidedOn: '2026-09-01',
    };
    await refused('/v1/decisions', { ...decision, kind: 'refusal', decidedOn: '2026-10-02' }, '#/decidedOn');
    await refused('/v1/decisions', { ...decision, kind: 'postponement' }, '#/untilDay');
    await refused(
      '/v1/decisions',
      { ...decision, kind: 'postponement', untilDay: '2026-08-01' },
      '#/untilDay',
    );
    await made('/v1/decisions', { ...decision, kind: 'postponement', untilDay: '2027-03-01' });
  });
});

test('every constraint has its words', async () => {
  const { rows } = await t.pool.query(
    `SELECT c.conname AS name, c.contype AS type FROM pg_constraint c JOIN pg_class r ON r.oid = c.conrelid
      WHERE c.connamespace = 'public'::regnamespace AND c.contype IN ('c', 'x') AND c.conname NOT LIKE '%\\_word' AND NOT r.relispartition
     UNION ALL
     SELECT i.relname, 'u' FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid JOIN pg_class r ON r.oid = x.indrelid
      WHERE r.relnamespace = 'public'::regnamespace AND x.indisunique AND NOT x.indisprimary AND NOT r.relispartition`,
  );
  expect(rows.length).toBeGreaterThan(50);
  const missing = rows.filter(({ name, type }) => !Object.hasOwn(type === 'c' ? RULES : CLASHES, name));
  expect(missing.map(({ name }) => name)).toEqual([]);
});

test('settings that would leave the night without a date, a visit or a price are refused', async () => {
  for (const [payload, pointer] of [
    [{ surveys: { perWeek: 0 } }, '#/surveys/perWeek'],
    [{ yearlyPlugRisk: { finished: 0 } }, '#/yearlyPlugRisk/finished'],
    [{ yearlyPlugRisk: { none: 1 } }, '#/yearlyPlugRisk/none'],
    [{ wetSeason: { from: '02-30' } }, '#/wetSeason/from'],
    [{ wetSeason: { to: '02-29' } }, '#/wetSeason/to'],
    [{ costs: { visitMinor: 0 } }, '#/costs/visitMinor'],
  ] as const) {
    const answer = await t.call('owner', {
      method: 'PATCH',
      url: '/v1/settings',
      payload,
      headers: { 'if-match': '*' },
    });
    expect(answer.status, pointer).toBe(400);
    expect(answer.body.errors[0].pointer).toBe(pointer);
  }
});
