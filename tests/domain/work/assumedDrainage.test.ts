import { describe, expect, test } from 'vitest';
import { type BookLine, circlesOf, drainageOf } from '../../../src/domain/work/assumedDrainage.js';

test('a footing drain and the discharge of its pit are one system', () => {
  const got = drainageOf([
    { ref: 'F', kind: 'footing_drain', drainsTo: null },
    { ref: 'D', kind: 'sump_discharge', drainsTo: null },
  ]);
  expect(got.systems).toHaveLength(1);
  expect(got.lines.get('F')).toMatchObject({ system: 0, drainsTo: 'pit', assumed: ['drains_to'] });
  expect(got.lines.get('D')).toMatchObject({ system: 0, drainsTo: 'outlet', isDischarge: true });
});

test('without a discharge a drain runs by gravity to an outlet of its own; a yard drain always does', () => {
  const got = drainageOf([
    { ref: 'F', kind: 'footing_drain', drainsTo: null },
    { ref: 'Y', kind: 'yard_drain', drainsTo: null },
  ]);
  expect(got.systems.map((system) => system.kind)).toEqual(['gravity', 'gravity']);
});

test('a line that joins another belongs to its system, through a chain', () => {
  const got = drainageOf([
    { ref: 'A', kind: 'floor_drain', drainsTo: 'B' },
    { ref: 'B', kind: 'footing_drain', drainsTo: 'C' },
    { ref: 'C', kind: 'footing_drain', drainsTo: 'pit' },
    { ref: 'D', kind: 'sump_discharge', drainsTo: null },
  ]);
  expect(got.lines.get('A')).toMatchObject({ system: 0, drainsTo: 'line', drainsToLine: 'B' });
});

const B1: BookLine = { ref: 'B1', kind: 'footing_drain', drainsTo: 'pit' };
const B2: BookLine = { ref: 'B2', kind: 'sump_discharge', drainsTo: null };

describe('a line that comes later', () => {
  const there = {
    systemOf: new Map([
      ['B1', 'system-1'],
      ['B2', 'system-1'],
    ]),
    pits: [{ system: 'system-1', hasDischarge: true }],
  };

  test('joins the system of the line it drains to, through a chain', () => {
    const got = drainageOf(
      [
        { ref: 'B3', kind: 'footing_drain', drainsTo: 'B1' },
        { ref: 'B5', kind: 'floor_drain', drainsTo: 'B3' },
      ],
      there,
    );
    expect(got.systems.map((system) => system.there)).toEqual(['system-1']);
    expect(got.lines.get('B3')).toMatchObject({ system: 0, drainsTo: 'line', drainsToLine: 'B1' });
    expect(got.lines.get('B5')).toMatchObject({ system: 0, drainsTo: 'line', drainsToLine: 'B3' });
  });

  test('runs to the pit that is there, told or inferred', () => {
    const got = drainageOf(
      [
        { ref: 'B4', kind: 'footing_drain', drainsTo: 'pit' },
        { ref: 'B6', kind: 'floor_drain', drainsTo: null },
      ],
      there,
    );
    expect(got.systems).toHaveLength(1);
    expect(got.lines.get('B4')).toMatchObject({ system: 0, drainsTo: 'pit', drainsToPit: 0, assumed: [] });
    expect(got.lines.get('B6')).toMatchObject({ drainsTo: 'pit', assumed: ['drains_to'] });
  });

  test('a second discharge has a pit of its own, unless a pit waits for one', () => {
    const later: BookLine[] = [{ ref: 'B7', kind: 'sump_discharge', drainsTo: null }];
    expect(drainageOf(later, there).systems.map((system) => system.there)).toEqual(['system-1', null]);
    const waiting = { ...there, pits: [{ system: 'system-1', hasDischarge: false }] };
    expect(drainageOf(later, waiting).lines.get('B7')).toMatchObject({ system: 0, isDischarge: true });
  });

  test('a second pit may be pumped into the one that is there', () => {
    const got = drainageOf([{ ref: 'B7', kind: 'sump_discharge', drainsTo: 'pit' }], there);
    expect(got.lines.get('B7')).toMatchObject({ system: 1, drainsTo: 'pit', drainsToPit: 0 });
  });

  test('cannot drain to what is not there', () => {
    expect(() => drainageOf([{ ref: 'B8', kind: 'floor_drain', drainsTo: 'B9' }], there)).toThrow('B9');
  });
});

test('a pit that the books tell of is there though no discharge is known', () => {
  const got = drainageOf([B1]);
  expect(got.systems).toMatchObject([{ kind: 'pit', assumed: [] }]);
  expect(got.lines.get('B1')).toMatchObject({ drainsTo: 'pit', drainsToPit: 0 });
});

test('a discharge may run into another line, and a second pit be pumped into the first', () => {
  const got = drainageOf([
    { ref: 'D1', kind: 'sump_discharge', drainsTo: 'Y' },
    { ref: 'D2', kind: 'sump_discharge', drainsTo: 'pit' },
    { ref: 'Y', kind: 'yard_drain', drainsTo: null },
  ]);
  expect(got.lines.get('D1')).toMatchObject({ system: 0, drainsToLine: 'Y', isDischarge: true, assumed: [] });
  expect(got.lines.get('D2')).toMatchObject({ system: 1, drainsTo: 'pit', drainsToPit: 0 });
  expect(got.lines.get('Y')).toMatchObject({ drainsTo: 'outlet' });
});

describe('circles', () => {
  test('through the pit: its discharge runs into a line that drains to it', () => {
    const book: BookLine[] = [
      { ref: 'A1', kind: 'sump_discharge', drainsTo: 'A2' },
      { ref: 'A2', kind: 'footing_drain', drainsTo: 'pit' },
    ];
    expect(circlesOf(book)).toEqual([['A1', 'A2']]);
    expect(() => drainageOf(book)).toThrow('circle');
  });

  test('a discharge into its own pit', () => {
    expect(circlesOf([{ ...B2, drainsTo: 'pit' }])).toEqual([['B2']]);
  });

  test('what is inferred closes none: the line that takes the discharge has an outlet', () => {
    const got = drainageOf([
      { ref: 'A1', kind: 'sump_discharge', drainsTo: 'A2' },
      { ref: 'A2', kind: 'footing_drain', drainsTo: null },
      { ref: 'A3', kind: 'footing_drain', drainsTo: null },
    ]);
    expect(got.lines.get('A2')).toMatchObject({ drainsTo: 'outlet' });
    expect(got.lines.get('A3')).toMatchObject({ drainsTo: 'pit' });
  });
});
