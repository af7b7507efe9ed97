import { expect, test } from 'vitest';
import type { ClientBase } from '../../src/actions/clientBase.js';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { clientBaseToCsv } from '../../src/files/clientBaseCsv.js';
import { csvFromText } from '../../src/files/csvSource.js';
import { readBooks } from '../../src/persistence/readBooks.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const ZONE = 'America/Chicago';
const TODAY = '2026-10-01';

async function bring(t: TestHouse, base: ClientBase): Promise<void> {
  await importClientBase(t.house, { name: 'test' }, { base, source: 'books', asOf: TODAY });
}

const reading = (row: ClientBase['readings'][number]) =>
  `${row.lineId} ${row.observedAt} ${row.phase} ${row.method}`;

/** In one order, the words for nothing said alike. */
function tidy(base: ClientBase): ClientBase {
  const by =
    <T>(key: (row: T) => string) =>
    (a: T, b: T) =>
      key(a).localeCompare(key(b), 'en');
  return {
    sites: base.sites.toSorted(by((row) => row.siteId)),
    lines: base.lines.toSorted(by((row) => row.lineId)).map((row) => ({ ...row, drainsTo: null })),
    readings: base.readings
      .map((row) => ({ ...row, plugCause: row.plugged ? (row.plugCause ?? 'unknown') : null }))
      .toSorted(by(reading)),
    crews: base.crews.toSorted(by((row) => row.crewId)).map((row) => ({ ...row, kit: row.kit.toSorted() })),
  };
}

test('the base of the demo: in, out as CSV, into another house and out again, all the same', async () => {
  const { base } = demoBusiness(1, TODAY);
  const [first, second] = [await testHouse(), await testHouse()];
  await bring(first, base);
  const books = await readBooks(first.pool, ZONE);
  expect(tidy(books)).toEqual(tidy(base));

  const csv = clientBaseToCsv(books);
  const files = Object.fromEntries(
    Object.entries(csv).map(([name, text]) => [name, csvFromText(`${name}.csv`, text)]),
  );
  const read = await readClientBase(files, TODAY);
  if ('faults' in read) throw new Error(JSON.stringify(read.faults.slice(0, 3)));
  await bring(second, read.base);
  expect(clientBaseToCsv(await readBooks(second.pool, ZONE))).toEqual(csv);
  const cleans = async (t: TestHouse) =>
    (
      await t.pool.query(
        'SELECT l.external_ref, c.cleaned_at FROM clean c JOIN line l ON l.id = c.line_id ORDER BY 1, 2',
      )
    ).rows;
  expect(await cleans(second)).toEqual(await cleans(first));
}, 120_000);

test('thin books stay thin, and a clean nobody measured is written as one', async () => {
  const t = await testHouse();
  const got = await readClientBase(
    {
      sites: csvFromText(
        'sites.csv',
        'site_id,client,address,last_cleaned\nS1,Rowan Reed,1 Marsh Gate,2026-03-01\nS2,Ada Moss,2 Marsh Gate,\n',
      ),
      lines: csvFromText('lines.csv', 'line_id,site_id,kind\nL2,S2,footing_drain\n'),
    },
    TODAY,
  );
  if ('faults' in got) throw new Error(JSON.stringify(got.faults));
  await bring(t, got.base);
  const [line] = (await t.pool.query(`SELECT id FROM line WHERE external_ref = 'L2'`)).rows;
  const made = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/cleans',
    payload: { lineId: line.id, cleanedAt: '2026-09-01T15:00:00Z', task: 'hose_flush' },
  });
  expect(made.status, JSON.stringify(made.body)).toBe(201);
  const books = await readBooks(t.pool, ZONE);
  expect(books.sites.map(({ siteId, lastCleaned }) => [siteId, lastCleaned])).toEqual([
    ['S1', '2026-03-01'],
    ['S2', null],
  ]);
  expect(books.lines.map(({ lineId }) => lineId)).toEqual(['L2']);
  expect(books.readings).toMatchObject([
    {
      lineId: 'L2',
      observedAt: '2026-09-01T15:00:00.000Z',
      phase: 'before_cleaning',
      method: null,
      occlusion: null,
    },
  ]);
});
