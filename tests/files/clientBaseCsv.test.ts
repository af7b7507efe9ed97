import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { ClientBase } from '../../src/actions/clientBase.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { type ClientBaseCsv, clientBaseToCsv } from '../../src/files/clientBaseCsv.js';
import { csvFromText } from '../../src/files/csvSource.js';

const AS_OF = '2026-09-30';
const demo = demoBusiness(4, AS_OF).base;

const read = (csv: ClientBaseCsv) =>
  readClientBase(
    {
      sites: csvFromText('sites.csv', csv.sites),
      lines: csvFromText('lines.csv', csv.lines),
      readings: csvFromText('readings.csv', csv.readings),
      crews: csvFromText('crews.csv', csv.crews),
    },
    AS_OF,
  );

/** A few sites of the demo with all that belongs to them. */
function part(sites: number): ClientBase {
  const own = demo.sites.slice(0, sites);
  const siteIds = new Set(own.map((site) => site.siteId));
  const lines = demo.lines.filter((line) => siteIds.has(line.siteId));
  const lineIds = new Set(lines.map((line) => line.lineId));
  const readings = demo.readings.filter((row) => lineIds.has(row.lineId));
  return { sites: own, lines, readings, crews: demo.crews };
}

test('the demo business is read back as it was written, with nothing to remark on', async () => {
  expect(await read(clientBaseToCsv(demo))).toEqual({ base: demo, remarks: [] });
});

test('any text a person can type comes back: quotes, commas, line ends, other scripts', async () => {
  const small = part(2);
  const marks = ['"', ',', ';', "'", '=', 'a', ' ', 'ö', '日', '🪠'];
  const typedOf = (parts: readonly string[]) =>
    fc
      .array(fc.constantFrom(...parts), { maxLength: 12 })
      .map((typed) => typed.join('').trim())
      .filter((text) => text !== '');
  // A name is of one line, a note of as many as one likes.
  await fc.assert(
    fc.asyncProperty(typedOf([...marks, '\n', '\r\n']), typedOf(marks), async (note, client) => {
      const base: ClientBase = {
        ...small,
        sites: small.sites.map((site) => ({ ...site, client })),
        readings: small.readings.map((row) => ({ ...row, note })),
      };
      expect(await read(clientBaseToCsv(base))).toMatchObject({ base });
    }),
    { seed: 5, numRuns: 60 },
  );
});

test('a file cut off anywhere is refused, or gives rows that are all whole', async () => {
  const base = part(1);
  // The note, which comes last, may end anywhere: a cut in it cannot be seen, so it stays empty here.
  const short = { ...base, readings: base.readings.slice(0, 2).map((row) => ({ ...row, note: null })) };
  const csv = clientBaseToCsv(short);
  const header = csv.readings.indexOf('\n') + 1;
  let refused = 0;
  for (let cut = header; cut < csv.readings.length; cut += 1) {
    const got = await read({ ...csv, readings: csv.readings.slice(0, cut) });
    if ('faults' in got) {
      refused += 1;
      continue;
    }
    expect(got.base.readings).toEqual(short.readings.slice(0, got.base.readings.length));
  }
  expect(refused).toBeGreaterThan(0.9 * (csv.readings.length - header));
});

test('what a spreadsheet would reckon stands behind an apostrophe, and comes back without', async () => {
  const base = part(1);
  const sites = base.sites.map((site) => ({
    ...site,
    client: '=HYPERLINK("http://x.example")',
    clientPhone: '+1 274 555 0100',
    accessNotes: '@SUM(1+1)',
    builder: "'=already",
  }));
  const csv = clientBaseToCsv({ ...base, sites });
  for (const cell of ['"\'=HYPERLINK(""', "'+1 274", "'@SUM", "''=already"])
    expect(csv.sites).toContain(cell);
  expect(await read(csv)).toMatchObject({ base: { sites }, remarks: [] });
});
