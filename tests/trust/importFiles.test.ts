import { beforeAll, expect, test } from 'vitest';
import type { ClientBase } from '../../src/actions/clientBase.js';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { clientBaseToCsv } from '../../src/files/clientBaseCsv.js';
import { faultText } from '../../src/files/csvFault.js';
import { csvFromBytes } from '../../src/files/csvSource.js';
import { Chance } from '../fuzz/chance.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

// Files as offices send them, spoilt in the ways that editors, spreadsheets and bad lines spoil them, brought in
// through reading and writing. Refused: each fault has its file and words, and no row is left. Taken: the same files
// again add nothing.

const AS_OF = '2026-09-30';
const NAMES = ['sites', 'lines', 'readings', 'crews'] as const;
type FileName = (typeof NAMES)[number];
type Files = Record<FileName, Buffer>;

let t: TestHouse;
const good = filesOf(4);
beforeAll(async () => {
  t = await testHouse();
});

function filesOf(houses: number): Files {
  const demo = demoBusiness(9, AS_OF).base;
  const sites = demo.sites.slice(0, houses);
  const siteIds = new Set(sites.map((site) => site.siteId));
  const lines = demo.lines.filter((line) => siteIds.has(line.siteId));
  const lineIds = new Set(lines.map((line) => line.lineId));
  const readings = demo.readings.filter((row) => lineIds.has(row.lineId)).slice(0, 40);
  const csv = clientBaseToCsv({ sites, lines, readings, crews: demo.crews });
  return Object.fromEntries(NAMES.map((name) => [name, Buffer.from(csv[name])])) as Files;
}

const chance = new Chance(20261126);
const inText = (bytes: Buffer, change: (text: string) => string) => Buffer.from(change(bytes.toString()));
const inRow = (bytes: Buffer, change: (cells: string[]) => string[]) =>
  inText(bytes, (text) => {
    const rows = text.split('\n');
    const at = chance.whole(1, rows.length - 2);
    rows[at] = change(String(rows[at]).split(',')).join(',');
    return rows.join('\n');
  });
const someCell = (value: string) => (bytes: Buffer) =>
  inRow(bytes, (cells) => cells.with(chance.whole(0, cells.length - 1), value));

/** Each spoils one file; some leave it good. */
const SPOILERS: Record<string, (bytes: Buffer) => Buffer> = {
  'cut off anywhere': (bytes) => bytes.subarray(0, chance.whole(0, bytes.length - 1)),
  'cut off after a row': (bytes) =>
    bytes.subarray(0, bytes.lastIndexOf('\n', chance.whole(300, bytes.length)) + 1),
  'in UTF-16 with its mark': (bytes) =>
    Buffer.concat([Buffer.from([0xff, 0xfe]), Buffer.from(bytes.toString(), 'utf16le')]),
  'in UTF-16 without it': (bytes) => Buffer.from(bytes.toString(), 'utf16le'),
  'in Latin-1': (bytes) => Buffer.from(bytes.toString().replaceAll('a', 'ä'), 'latin1'),
  'with a byte order mark': (bytes) => Buffer.concat([Buffer.from([0xef, 0xbb, 0xbf]), bytes]),
  'with line ends of two kinds': (bytes) =>
    inText(bytes, (text) => text.replaceAll('\n', () => (chance.is(0.5) ? '\r\n' : '\n'))),
  'with line ends of old': (bytes) => inText(bytes, (text) => text.replaceAll('\n', '\r')),
  'with a formula': someCell('=HYPERLINK("http://example.org","x")'),
  'with another formula': someCell('@SUM(1+1)*cmd'),
  'with a command of the terminal': someCell('\u001b[2J'),
  'with a row twice': (bytes) =>
    inText(bytes, (text) => {
      const rows = text.split('\n');
      return rows.toSpliced(2, 0, String(rows[chance.whole(1, rows.length - 2)])).join('\n');
    }),
  'after itself': (bytes) => Buffer.concat([bytes, bytes]),
  'with two columns changed over': (bytes) =>
    inText(bytes, (text) =>
      text
        .split('\n')
        .map((row) => row.split(',').reverse().join(','))
        .join('\n'),
    ),
  'with a cell too many': (bytes) => inRow(bytes, (cells) => [...cells, 'x']),
  'with a cell too few': (bytes) => inRow(bytes, (cells) => cells.slice(0, -1)),
  'with an open quote': someCell('"so'),
  'with NUL': someCell('a\0b'),
  'with a number at its edge': someCell('1e308'),
  'with a day that is none': someCell('2026-02-30'),
  'with a decimal comma': someCell('"0,4"'),
  'with a cell of a megabyte': someCell('x'.repeat(1_000_000)),
  'with semicolons': (bytes) => inText(bytes, (text) => text.replaceAll(',', ';')),
  'with half a pair of surrogates': (bytes) => inText(bytes, (text) => text.replace('e', '\ud83e')),
  'with blank rows': (bytes) => inText(bytes, (text) => text.replaceAll('\n', '\n\n')),
  'of nothing': () => Buffer.alloc(0),
  'of another program': () => Buffer.concat([Buffer.from('PK\u0003\u0004'), Buffer.alloc(3000, 7)]),
};

const read = (files: Files) =>
  readClientBase(
    Object.fromEntries(NAMES.map((name) => [name, csvFromBytes(`${name}.csv`, files[name])])),
    AS_OF,
  );
const bring = (base: ClientBase, source: string) =>
  importClientBase(t.house, { name: 'test' }, { base, source, asOf: AS_OF });

/** Rows of every table of the books and the change log, in one number each. */
async function rowCounts(): Promise<Record<string, number>> {
  const tables = [
    'client',
    'site',
    'line',
    'line_section',
    'inspection',
    'clean',
    'crew',
    'shift',
    'change_log',
  ];
  const counted = tables.map(async (table) => {
    const { rows } = await t.pool.query(`SELECT count(*)::int AS n FROM ${table}`);
    return [table, rows[0].n] as const;
  });
  return Object.fromEntries(await Promise.all(counted));
}

test.each(Object.keys(SPOILERS))(
  'a file %s: all or nothing, and safe to repeat',
  async (how) => {
    for (const name of NAMES) {
      const source = `${how} ${name}`;
      const spoil = SPOILERS[how] as (bytes: Buffer) => Buffer;
      const files = { ...good, [name]: spoil(good[name]) };
      const before = await rowCounts();
      const got = await read(files);
      if ('faults' in got) {
        expect(got.total).toBeGreaterThan(0);
        for (const fault of got.faults) {
          expect(NAMES.map((each) => `${each}.csv`)).toContain(fault.file);
          expect(faultText(fault)).toMatch(/: ./);
        }
        expect(await rowCounts()).toEqual(before);
        continue;
      }
      let refused = false;
      await bring(got.base, source).catch((error: Error) => {
        // In words, never the database's own.
        expect(error.name).toBe('Refused');
        refused = true;
      });
      const after = await rowCounts();
      if (refused) expect(after).toEqual(before);
      else {
        const again = await bring(got.base, source);
        expect(again).toMatchObject({ sites: 0, lines: 0, inspections: 0, cleans: 0, crews: 0 });
        expect(await rowCounts()).toEqual(after);
      }
    }
  },
  60_000,
);
