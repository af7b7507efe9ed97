import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { readMapping } from '../../src/files/bookMapping.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { csvFromText } from '../../src/files/csvSource.js';

const PAPER = readFileSync(new URL('../../openapi/import.md', import.meta.url), 'utf8');
/** The mapping that the paper shows. */
const SHOWN = /```json\n([\s\S]*?)```/.exec(PAPER)?.[1] ?? '';

async function read(sites: string, lines: string, mapping = SHOWN) {
  const maps = readMapping(mapping);
  return readClientBase(
    {
      sites: { ...csvFromText('sites.csv', sites), ...(maps.sites ? { mapping: maps.sites } : {}) },
      lines: { ...csvFromText('lines.csv', lines), ...(maps.lines ? { mapping: maps.lines } : {}) },
    },
    '2026-10-01',
  );
}

const SITES = 'site_id,Customer,STREET,Colour,Last service\nS1,Rowan Reed,1 Marsh Gate,red,3/4/2026\n';
const LINES = 'Line no,Property,Type,Pipe size\nL1,S1,tile,4\nL2,S1,SUMP,1.5\n';

test('the mapping of the paper: other names, words, days and inches', async () => {
  const got = await read(SITES, LINES);
  expect(got).toMatchObject({
    base: {
      sites: [{ siteId: 'S1', client: 'Rowan Reed', address: '1 Marsh Gate', lastCleaned: '2026-03-04' }],
      // 4 in = 101.6 mm, 1.5 in = 38.1 mm: an inch is 25.4 mm by definition.
      lines: [
        { lineId: 'L1', kind: 'footing_drain', boreMm: 101.6 },
        { lineId: 'L2', kind: 'sump_discharge', boreMm: 38.1 },
      ],
    },
  });
});

test.each([
  ['DD.MM.YYYY', '04.03.2026'],
  ['DD/MM/YYYY', '4/3/2026'],
  ['M/D/YY', '3/4/26'],
  ['YYYY-MM-DD', '2026-3-4'],
])('days written %s', async (days, cell) => {
  const mapping = JSON.stringify({ sites: { Last: { column: 'last_cleaned', days } } });
  const got = await read(
    `client,address,Last\nRowan Reed,1 Marsh Gate,${cell}\n`,
    'line_id,site_id,kind\n',
    mapping,
  );
  expect(got).toMatchObject({ base: { sites: [{ lastCleaned: '2026-03-04' }] } });
});

test('a day that is none, a word nobody mapped, a mapped column that is not there: faults by line and column', async () => {
  const day = await read(SITES.replace('3/4/2026', '13/4/2026'), LINES);
  expect(day).toMatchObject({
    faults: [
      // As the file has it, not as the mapping makes it.
      {
        file: 'sites.csv',
        line: 2,
        column: 'Last service',
        value: '13/4/2026',
        remedy: 'a day written MM/DD/YYYY, as the mapping says',
      },
    ],
  });
  const word = await read(SITES, LINES.replace('tile', 'gutter'));
  expect(word).toMatchObject({ faults: [{ file: 'lines.csv', line: 2, column: 'Type', value: 'gutter' }] });
  const gone = await read(SITES.replace('Colour', 'Color'), LINES);
  expect(gone).toMatchObject({ faults: [{ file: 'sites.csv', line: 1 }] });
});

test('what is found only when all rows are in names the column as the file has it, too', async () => {
  const mapping = JSON.stringify({
    sites: { House: 'site_id' },
    lines: { 'Line no': 'line_id', Property: 'site_id', 'Flows into': 'drains_to' },
  });
  const got = await read(
    'House,client,address\nS1,Rowan Reed,1 Marsh Gate\n',
    'Line no,Property,kind,Flows into\nL1,S1,footing_drain,L2\nL2,S1,footing_drain,L1\nL3,S1,yard_drain,L9\nL4,S7,yard_drain,outlet\n',
    mapping,
  );
  const faults = 'faults' in got ? got.faults.map(({ line, column, value }) => [line, column, value]) : [];
  expect(faults).toContainEqual([4, 'Flows into', 'L9']);
  expect(faults).toContainEqual([5, 'Property', 'S7']);
  expect(faults).toContainEqual([2, 'Flows into', 'L2']);
  expect(faults).toHaveLength(3);
});

test.each([
  ['{', 'is not JSON'],
  ['{"houses": {}}', 'does not fit'],
  [
    '{"lines": {"Size": {"column": "inside_diameter_mm", "unit": "gal"}}}',
    'inside_diameter_mm in gal: mm, cm, m, in, ft',
  ],
  ['{"sites": {"When": {"column": "last_cleaned", "days": "YY.DD.MM"}}}', 'does not fit'],
])('a mapping that cannot be meant is refused: %s', (text, said) => {
  expect(() => readMapping(text)).toThrow(said);
});
