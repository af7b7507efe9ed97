import { randomUUID } from 'node:crypto';
import { readdirSync } from 'node:fs';
import { beforeAll, expect, test } from 'vitest';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: RoutedHouse;
let tern: string;
let other: string;
beforeAll(async () => {
  t = await routedHouse();
  tern = await t.keyOf('Tern');
  const memberId = randomUUID();
  await t.house.stores.rows.insert('member', { id: memberId, name: 'Wren' });
  other = await t.keyOf('Wren', memberId);
}, 60_000);

const pdf = (bytes: number) => Buffer.from(`%PDF-1.4\n%${'x'.repeat(bytes - 17)}\n%%EOF\n`);
const put = async (key: string, id: string, bytes: Buffer): Promise<{ status: number; body: Json }> => {
  const head = '--b\r\ncontent-disposition: form-data; name="file"; filename="a.pdf"\r\n\r\n';
  const answer = await t.app.inject({
    method: 'PUT',
    url: `/v1/attachments/${id}/file`,
    headers: { authorization: `Bearer ${key}`, 'content-type': 'multipart/form-data; boundary=b' },
    payload: Buffer.concat([Buffer.from(head), bytes, Buffer.from('\r\n--b--\r\n')]),
  });
  return { status: answer.statusCode, body: answer.json() };
};
const untold = async (query = ''): Promise<Json> => {
  const { status, body } = await t.call('dispatcher', { method: 'GET', url: `/v1/untold-files?${query}` });
  expect(status).toBe(200);
  return body;
};

test('bytes of which nobody said what they show are listed for the office, page by page, until somebody does', async () => {
  const ids = [randomUUID(), randomUUID(), randomUUID()] as const;
  for (const id of ids) {
    expect((await put(tern, id, pdf(1000))).body.known).toBe(false);
    t.clock.at = new Date(t.clock.at.getTime() + 1000);
  }
  const first = await untold('limit=2');
  expect(first.items.map(({ id }: Json) => id)).toEqual([ids[2], ids[1]]);
  expect(first.items[0]).toMatchObject({ kind: 'document', mediaType: 'application/pdf', bytes: 1000 });
  const days = Date.parse(first.items[0].goesAt) - Date.parse(first.items[0].createdAt);
  expect(days / 86_400_000).toBe(30);
  const rest = await untold(`limit=2&cursor=${first.next}`);
  expect(rest.items.map(({ id }: Json) => id)).toEqual([ids[0]]);
  expect((await untold('kind=clip')).items).toEqual([]);

  const read = (role: 'dispatcher' | 'owner' | 'technician' | 'integration', id: string = ids[1]) =>
    t.call(role, { method: 'GET', url: `/v1/attachments/${id}/file?copy=original` });
  for (const role of ['dispatcher', 'owner'] as const) {
    const { status, text } = await read(role);
    expect([status, text]).toEqual([200, pdf(1000).toString()]);
  }
  for (const role of ['technician', 'integration'] as const) expect((await read(role)).status).toBe(404);
  expect((await read('dispatcher', randomUUID())).status).toBe(404);

  const said = { id: ids[1], siteId: t.own.siteId, lineId: t.own.lineId, takenAt: '2026-10-01T11:00:00Z' };
  expect((await t.call('dispatcher', { method: 'POST', url: '/v1/attachments', payload: said })).status).toBe(
    201,
  );
  expect((await untold()).items.map(({ id }: Json) => id)).toEqual([ids[2], ids[0]]);
  for (const role of ['technician', 'integration'] as const)
    expect((await t.call(role, { method: 'GET', url: '/v1/untold-files' })).status).toBe(403);
});

test('a person puts so many megabytes a day and no more; others, and the next day, are not touched by it', async () => {
  const set = await t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    headers: { 'if-match': '*' },
    payload: { files: { megabytesADay: 1 } },
  });
  expect(set.status, set.text).toBe(200);
  const [first, second] = [randomUUID(), randomUUID()];
  const bytes = pdf(600_000);
  expect((await put(tern, first, bytes)).status).toBe(200);
  const refused = await put(tern, second, pdf(600_001));
  expect(refused).toMatchObject({ status: 429, body: { type: '/problems/enough-for-today' } });
  expect(refused.body.detail).toContain('files.megabytesADay');
  expect(await t.house.stores.rows.get('stored_file', second)).toBeNull();
  expect(readdirSync(t.folder, { recursive: true }).filter((name) => String(name).includes(second))).toEqual(
    [],
  );
  // A phone that missed the answer sends the same once more.
  expect((await put(tern, first, bytes)).status).toBe(200);
  expect((await put(other, second, pdf(600_001))).status).toBe(200);
  t.clock.at = new Date(t.clock.at.getTime() + 86_400_000);
  expect((await put(tern, randomUUID(), bytes)).status).toBe(200);
});
