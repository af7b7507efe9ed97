import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { ROLES, type Role } from '../../src/domain/words.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';

interface Operation {
  method: string;
  path: string;
  id: string;
  /** Who may call it; null: everybody. */
  roles: Role[] | null;
}

const NOTHING_THERE = '019abcde-0000-7000-8000-000000000001';

let t: RoutedHouse;
let operations: Operation[];
let technician: string;

beforeAll(async () => {
  t = await routedHouse();
  technician = await t.keyOf('Tern');
  const { paths } = (await t.call(null, { method: 'GET', url: '/docs/json' })).body;
  operations = Object.entries(paths as Record<string, Record<string, Record<string, string>>>).flatMap(
    ([path, methods]) =>
      Object.entries(methods).map(([method, { operationId = '', description = '', security }]) => ({
        method: method.toUpperCase(),
        path,
        id: operationId,
        roles:
          security?.length === 0 ? null : (/Roles: ([^.]*)\./.exec(description)?.[1]?.split(', ') as Role[]),
      })),
  );
});

const call = (key: string | null, { method, path }: Operation, id = NOTHING_THERE, payload?: object) =>
  t.app.inject({
    method: method as 'GET',
    url: path.replace(/\{[^}]+\}/g, id),
    headers: key === null ? {} : { authorization: `Bearer ${key}` },
    ...(method === 'GET' ? {} : { payload: payload ?? {} }),
  });

test('every operation says who may call it, and is closed to everybody else', async () => {
  const table: string[] = [];
  for (const operation of operations) {
    expect(operation.roles?.length, operation.id).not.toBe(0);
    for (const role of ROLES) {
      const { statusCode } = await call(t.keys[role], operation);
      const mayCall = operation.roles === null || operation.roles.includes(role);
      if (mayCall) expect([operation.id, role, statusCode]).not.toEqual([operation.id, role, 401]);
      else expect([operation.id, role, statusCode]).toEqual([operation.id, role, 403]);
      expect(statusCode, `${operation.id} ${role}`).not.toBe(500);
    }
    const { statusCode } = await call(null, operation);
    if (operation.roles !== null) expect([operation.id, statusCode]).toEqual([operation.id, 401]);
    table.push(operation.id);
  }
  expect(table.length).toBeGreaterThan(250);
}, 300_000);

/** A record on the site that is on no route of the technician, by the list it stands in. */
async function foreignIds(): Promise<Record<string, string>> {
  const { rows } = t.house.stores;
  const { siteId, lineId, pitId } = t.foreign;
  const add = async (table: string, row: object) => {
    const id = randomUUID();
    await rows.insert(table, { id, ...row });
    return id;
  };
  const task = await add('work_order_task', {
    work_order_id: t.foreignOrderId,
    position: 1,
    kind: 'jet',
    line_id: lineId,
    minutes: 30,
  });
  const [depot] = await rows.all('depot', []);
  const crew = await add('crew', { name: 'Plover', depot_id: depot?.['id'], people: 2 });
  const [plan] = await rows.all('plan', []);
  const route = await add('route', {
    plan_id: plan?.['id'],
    crew_id: crew,
    day: '2026-10-01',
    state: 'live',
  });
  const finding = {
    line_id: lineId,
    author: 'Plover',
    received_at: '2026-09-30T15:00:00Z',
  };
  return {
    sites: siteId,
    lines: lineId,
    pits: pitId,
    'work-orders': t.foreignOrderId,
    'work-order-tasks': task,
    routes: route,
    contacts: await add('contact', { site_id: siteId, name: 'A. Reed', role: 'occupant' }),
    'access-points': await add('access_point', {
      site_id: siteId,
      line_id: lineId,
      kind: 'outlet',
      place: 'by the fence',
    }),
    inspections: await add('inspection', {
      ...finding,
      observed_at: '2026-09-30T15:00:00Z',
      phase: 'no_cleaning',
      raw: '{}',
      conversion_version: 1,
      plugged: true,
      plug_cause: 'deposit',
    }),
    systems: t.foreign.systemId,
    attachments: await add('attachment', {
      site_id: siteId,
      taken_at: '2026-09-30T15:00:00Z',
      author: 'Plover',
      author_id: t.memberId,
    }),
    'sync-items': await add('sync_item', {
      kind: 'note',
      author: 'Plover',
      author_id: randomUUID(),
      key_id: randomUUID(),
      roles: ['technician'],
      happened_at: '2026-09-30T15:00:00Z',
      clock_offset_s: 0,
      work_order_id: t.foreignOrderId,
      fingerprint: Buffer.from('00', 'hex'),
      content: '{"text":"by the fence"}',
      work: '{}',
    }),
    cleans: await add('clean', { ...finding, cleaned_at: '2026-09-30T15:00:00Z' }),
    notes: await add('note', {
      site_id: siteId,
      text: 'gate key under the heron',
      author: 'Plover',
      noted_at: '2026-09-30T15:00:00Z',
      author_id: t.memberId,
    }),
    'locate-tickets': await add('locate_ticket', {
      work_order_id: t.foreignOrderId,
      rule_id: await add('locate_rule', {
        name: 'test',
        notice: 2,
        notice_unit: 'hour',
        source: 'test',
      }),
      called_at: '2026-09-28T15:00:00Z',
      dig_from: '2026-09-30T15:00:00Z',
      first_day: '2026-09-30',
      author: 'Plover',
    }),
  };
}

/** Lists whose records belong to no house: everybody of the firm may know them. */
const OF_THE_FIRM = new Set(['crews', 'on-call-turns']);

test('a technician gets at no record of a house that is on no route of the own crew (OWASP API1:2023)', async () => {
  const foreign = await foreignIds();
  const open: string[] = [];
  let tried = 0;
  for (const operation of operations) {
    const list = /^\/v1\/([a-z-]+)\/\{[^}]+\}/.exec(operation.path)?.[1];
    if (list === undefined || operation.roles === null || !operation.roles.includes('technician')) continue;
    if (OF_THE_FIRM.has(list)) continue;
    const id = foreign[list];
    expect(id, `${operation.id}: this test has no foreign record of ${list}; add one`).toBeDefined();
    const { statusCode, body } = await call(technician, operation, id);
    const isNothing = [400, 403, 404, 406, 428].includes(statusCode) || body === '{"items":[]}';
    if (!isNothing || /Marsh Gate|A\. Reed|the heron|by the fence/.test(body))
      open.push(`${operation.id}: ${statusCode} ${body.slice(0, 80)}`);
    tried += 1;
  }
  expect(open).toEqual([]);
  expect(tried).toBeGreaterThan(20);
}, 120_000);
