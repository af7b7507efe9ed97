import { expect, test } from 'vitest';
import { drainageOf } from '../../../src/domain/work/assumedDrainage.js';

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
