import { beforeAll, expect, test } from 'vitest';
import { ROLES, type Role } from '../../src/domain/words.js';
import { foreignRecords } from '../setup/foreignRecords.js';
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

/** Lists whose records belong to no house: everybody of the firm may know them. */
const OF_THE_FIRM = new Set(['crews', 'on-call-turns']);

test('a technician gets at no record of a house that is on no route of the own crew (OWASP API1:2023)', async () => {
  const foreign = await foreignRecords(t);
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
