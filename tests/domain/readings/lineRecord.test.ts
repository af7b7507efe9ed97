import { expect, test } from 'vitest';
import {
  type EarlierReading,
  type LineRecord,
  readingFactsAt,
  type SectionRecord,
  sectionAt,
} from '../../../src/domain/readings/lineRecord.js';

const section = (change: Partial<SectionRecord>): SectionRecord => ({
  id: 'a',
  fromM: null,
  toM: null,
  material: 'pvc',
  boreMm: 100,
  roughness: { n: 0.01, c: 150 },
  slope: null,
  installedDay: null,
  removedDay: null,
  ...change,
});
const line = (change: Partial<LineRecord>): LineRecord => ({
  kind: 'sump_discharge',
  lengthM: 18,
  liftM: 2.7,
  deposit: 'gel',
  sections: [section({})],
  pumps: [],
  ...change,
});

test('a reading is converted by the pipe that lay there then, not by the one that replaced it', () => {
  const sections = [
    section({ id: 'old', boreMm: 75, removedDay: 1000 }),
    section({ id: 'new', boreMm: 100, installedDay: 1000 }),
  ];
  expect(sectionAt(sections, 999.9)?.id).toBe('old');
  expect(sectionAt(sections, 1000)?.id).toBe('new');
  expect(readingFactsAt(line({ sections }), 500, 'unknown', []).boreMm).toBe(75);
});

test('of several sections the longest counts; before any was laid, those still there', () => {
  const parts = [
    section({ id: 'short', fromM: 0, toM: 5, installedDay: 10 }),
    section({ id: 'long', fromM: 5, toM: 20, installedDay: 10 }),
    section({ id: 'gone', installedDay: 2, removedDay: 5 }),
  ];
  expect(sectionAt(parts, 20)?.id).toBe('long');
  expect(sectionAt(parts, 1)?.id).toBe('long');
  expect(sectionAt([], 1)).toBeNull();
});

const drawdown = (day: number, fall: number, phase: EarlierReading['phase'] = 'after_cleaning') => ({
  day,
  phase,
  reading: { method: 'pit_drawdown' as const, riseMmPerMinute: 20, fallMmPerMinute: fall },
});

test('a draw-down is compared with the same pump after its last clean before it', () => {
  const readings = [
    drawdown(10, 80),
    drawdown(20, 100),
    drawdown(25, 40, 'before_cleaning'),
    drawdown(30, 90),
  ];
  const at = (day: number, change: Partial<LineRecord> = {}) =>
    readingFactsAt(line(change), day, 'unknown', readings).cleanDrawdownMmPerMinute;
  expect([at(5), at(15), at(26), at(40)]).toEqual([null, 100, 120, 110]);
  // A pump put in on day 22: what the old one moved is no measure for it.
  const pumps = [
    { curve: null, installedDay: null, removedDay: 22 },
    { curve: null, installedDay: 22, removedDay: null },
  ];
  expect([at(21, { pumps }), at(26, { pumps }), at(40, { pumps })]).toEqual([120, null, 110]);
});

test('a known product gives its roughness, a curve that does not fall is left aside', () => {
  const facts = readingFactsAt(
    line({
      sections: [section({ roughness: { n: 0.018, c: null }, material: 'corrugated_hdpe' })],
      pumps: [
        {
          curve: [
            { flowLps: 0, headM: 5 },
            { flowLps: 1, headM: 6 },
          ],
          installedDay: null,
          removedDay: null,
        },
      ],
    }),
    1,
    'crust',
    [],
  );
  expect(facts).toMatchObject({ manningN: 0.018, hazenWilliamsC: null, pumpCurve: null, deposit: 'crust' });
});
