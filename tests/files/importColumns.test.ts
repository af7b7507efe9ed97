import { readFileSync } from 'node:fs';
import { stringify } from 'csv-stringify/sync';
import { expect, test } from 'vitest';
import {
  ACCESS,
  BASEMENTS,
  CONDITIONS,
  DEPOSITS,
  KIT_KINDS,
  LINE_KINDS,
  MATERIALS,
  METHODS,
  OUTLETS,
  PHASES,
  PLUG_CAUSES,
  WEEKDAYS,
} from '../../src/domain/words.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { CREW_COLUMNS } from '../../src/files/clientBaseCrews.js';
import { LINE_COLUMNS } from '../../src/files/clientBaseLines.js';
import { READING_COLUMNS } from '../../src/files/clientBaseReadings.js';
import { SITE_COLUMNS } from '../../src/files/clientBaseSites.js';
import type { Columns } from '../../src/files/csvHeader.js';
import { csvFromText } from '../../src/files/csvSource.js';

// openapi/import.md tells a firm what columns there are: it must say what the readers do.

interface Told {
  column: string;
  needed: boolean;
  words: string[];
  example: string;
}

const PAPER = readFileSync(new URL('../../openapi/import.md', import.meta.url), 'utf8');

function toldOf(file: string): Told[] {
  const [, section = ''] = PAPER.split(`## ${file}.csv\n`);
  const rows = (section.split('\n## ')[0] ?? '').split('\n').filter((row) => row.startsWith('| `'));
  return rows.map((row) => {
    const [, column = '', needed = '', what = '', example = ''] = row.split('|').map((cell) => cell.trim());
    const words = [...what.matchAll(/`([a-z_]+)`/g)].map(([, word = '']) => word);
    return { column: column.replaceAll('`', ''), needed: needed === 'yes', words, example };
  });
}

const FILES: [string, Columns][] = [
  ['sites', SITE_COLUMNS],
  ['lines', LINE_COLUMNS],
  ['readings', READING_COLUMNS],
  ['crews', CREW_COLUMNS],
];

test.each(FILES)('%s.csv: the columns and which are needed', (file, columns) => {
  const told = toldOf(file);
  const named = (needed: boolean) =>
    told.filter((each) => each.needed === needed).map(({ column }) => column);
  expect(named(true).sort()).toEqual([...columns.required].sort());
  expect(named(false).sort()).toEqual([...columns.optional].sort());
  for (const name of Object.keys(columns.alsoCalled ?? {}))
    expect(named(true).concat(named(false))).toContain(name);
});

test.each([
  ['sites', 'access', ACCESS],
  ['sites', 'basement', BASEMENTS],
  ['lines', 'kind', LINE_KINDS],
  ['lines', 'material', MATERIALS],
  ['lines', 'outlet', OUTLETS],
  ['lines', 'condition', CONDITIONS],
  ['readings', 'phase', PHASES],
  ['readings', 'method', METHODS],
  ['readings', 'deposit', DEPOSITS],
  ['readings', 'plug_cause', PLUG_CAUSES],
  ['crews', 'kit', KIT_KINDS],
  ['crews', 'weekdays', WEEKDAYS],
])('%s.csv, %s: every word of the list', (file, column, words: readonly string[]) => {
  const told = toldOf(file).find((each) => each.column === column)?.words ?? [];
  for (const word of words) if (word !== 'unknown') expect(told).toContain(word);
});

test('the examples are a file set that is read without a fault or a remark', async () => {
  const sources = FILES.map(([file]) => {
    const told = toldOf(file);
    const text = stringify([told.map(({ column }) => column), told.map(({ example }) => example)]);
    return [file, csvFromText(`${file}.csv`, text)];
  });
  const got = await readClientBase(Object.fromEntries(sources), '2026-09-30');
  expect(got).toMatchObject({
    remarks: [],
    base: { sites: [{ siteId: 'S1' }], lines: [{ boreMm: 102 }], readings: [{ occlusion: 0.25 }] },
  });
});
