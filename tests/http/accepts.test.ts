import { parse } from 'csv-parse/sync';
import { beforeAll, describe, expect, test } from 'vitest';
import type { Role } from '../../src/domain/words.js';
import { weightOf } from '../../src/http/accepts.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

test('weights as in the example of RFC 9110 §12.5.1', () => {
  const accept =
    'text/*;q=0.3, text/plain;q=0.7, text/plain;format=flowed, text/plain;format=fixed;q=0.4, */*;q=0.5';
  expect(weightOf(accept, 'text/html')).toBe(0.3);
  expect(weightOf(accept, 'image/jpeg')).toBe(0.5);
  expect(weightOf('text/csv;q=0, */*', 'text/csv')).toBe(0);
  expect(weightOf('application/json', 'text/csv')).toBe(0);
  expect(weightOf(undefined, 'text/csv')).toBe(1);
  expect(weightOf('', 'text/csv')).toBe(1);
});

interface Reading {
  path: string;
  id: string;
  role: Role | null;
  types: string[];
  statuses: string[];
  /** Takes a cursor. */
  pages: boolean;
}

/** One that may read it, of the office where it can be. */
const roleOf = (description: string): Role =>
  (/Roles:.*\b(owner|dispatcher)\b/.exec(description)?.[1] ?? 'technician') as Role;

/** What needs something said in its query. */
const QUERIES: Record<string, string> = {
  listAttachments: 'siteId=SITE',
  listNotes: 'siteId=SITE',
  listRoutes: 'day=2026-10-01',
  listWaterRecords: 'from=2026-10-01&to=2026-10-01',
};

describe('over every reading operation of the document', () => {
  let t: RoutedHouse;
  let readings: Reading[];
  beforeAll(async () => {
    t = await routedHouse();
    const { paths } = (await t.call(null, { method: 'GET', url: '/docs/json' })).body as {
      paths: Record<string, Json>;
    };
    readings = Object.entries(paths).flatMap(([path, { get }]) =>
      get
        ? [
            {
              path,
              id: get.operationId,
              role: get.security?.length === 0 ? null : roleOf(get.description),
              types: Object.keys(get.responses['200']?.content ?? {}),
              statuses: Object.keys(get.responses),
              pages: (get.parameters ?? []).some(({ name }: Json) => name === 'cursor'),
            },
          ]
        : [],
    );
  }, 60_000);

  const ask = ({ path, id, role }: Reading, accept: string) => {
    const query = QUERIES[id]?.replace('SITE', t.own.siteId);
    const url = path.replace(/\{[^}]+\}/g, t.own.lineId) + (query === undefined ? '' : `?${query}`);
    return t.call(role, { method: 'GET', url, headers: { accept } });
  };

  test('Accept: text/csv gives CSV or a refusal that says what is right, never JSON', async () => {
    const lists: string[] = [];
    for (const reading of readings.filter(({ types }) => types.includes('application/json'))) {
      const { status, headers, body } = await ask(reading, 'text/csv');
      if (!reading.types.includes('text/csv')) {
        expect([reading.id, status, headers['content-type']]).toEqual([
          reading.id,
          406,
          'application/problem+json',
        ]);
        expect(body.type).toBe('/problems/not-acceptable');
        expect(body.detail).toContain('Right would be: Accept: application/json');
        expect(reading.statuses, reading.id).toContain('406');
      } else if (!reading.path.includes('{')) {
        expect([reading.id, status, headers['content-type']]).toEqual([
          reading.id,
          200,
          'text/csv; charset=utf-8',
        ]);
        lists.push(reading.id);
      }
    }
    expect(lists).toEqual(
      expect.arrayContaining([
        'listWorkOrders',
        'listTrends',
        'listProposals',
        'listInspections',
        'getDoneWork',
      ]),
    );
    expect(lists.length).toBeGreaterThan(60);
  }, 120_000);

  test('a list that pages is a list that comes as CSV', () => {
    const paged = readings.filter(({ pages, types }) => pages && types.includes('application/json'));
    expect(paged.filter(({ types }) => !types.includes('text/csv')).map(({ id }) => id)).toEqual([]);
    expect(paged.length).toBeGreaterThan(45);
  });

  test('a type that nobody offers is refused but where the address says what it is; any type is welcome', async () => {
    for (const reading of readings) {
      const { status } = await ask(reading, 'application/x-none');
      expect([reading.id, status === 406]).toEqual([reading.id, reading.statuses.includes('406')]);
      for (const accept of ['*/*', 'text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8'])
        expect([reading.id, (await ask(reading, accept)).status]).not.toEqual([reading.id, 406]);
    }
    const never = readings.filter(({ statuses }) => !statuses.includes('406'));
    expect(never.filter(({ path }) => !/\.(svg|geojson|ics)$/.test(path)).map(({ id }) => id)).toEqual([
      'getMetrics',
      'getAttachmentFile',
    ]);
  }, 240_000);

  test('the CSV of work orders holds every page, and the objects within by both names', async () => {
    const { items } = (await t.call('owner', { method: 'GET', url: '/v1/work-orders?limit=1&sort=number' }))
      .body;
    const answer = await t.call('owner', {
      method: 'GET',
      url: '/v1/work-orders?limit=1&sort=number',
      headers: { accept: 'text/csv' },
    });
    const rows = parse(answer.text, { columns: true }) as Record<string, string>[];
    expect(rows.length).toBe(2);
    expect(rows[0]).toMatchObject({
      id: items[0].id,
      number: String(items[0].number),
      state: 'placed',
      'lock.day': '',
    });
  });
});
