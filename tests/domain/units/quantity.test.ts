import { expect, test } from 'vitest';
import {
  DIMENSIONS,
  type DimensionName,
  fromStored,
  inUnit,
  toStored,
  unitsOf,
} from '../../../src/domain/units/quantity.js';

// Exact by definition (international yard and pound, US liquid gallon): inch 25.4 mm, gallon 231 in³,
// pound-force .45359237 kg × 9.80665 m/s², horsepower 550 ft·lbf/s.
const EXACT: [number, string, DimensionName, number][] = [
  [1, 'in', 'bore', 25.4],
  [1, 'ft', 'length', 0.3048],
  [4, 'in', 'length', 0.1016],
  [1, 'gal', 'volume', 231 * 2.54 ** 3 * 1e-3],
  [1, 'gpm', 'flow', 3.785411784 / 60],
  [60, 'L/min', 'flow', 1],
  [1, 'bar', 'pressure', 100],
  [1, 'psi', 'pressure', (0.45359237 * 9.80665) / 0.0254 ** 2 / 1000],
  [1, 'ft/s', 'speed', 0.3048],
  [1, 'lbf', 'force', 0.45359237 * 9.80665],
  [1, 'hp', 'power', 550 * 0.3048 * 0.45359237 * 9.80665],
  [1, '%', 'slope', 0.01],
  [0.125, 'in/ft', 'slope', 0.125 / 12],
  [5, 'mg/L', 'concentration', 5],
];

test.each(EXACT)('%s %s as %s', (value, unit, dimension, stored) => {
  expect(toStored({ value, unit }, dimension)).toBeCloseTo(stored, 12);
});

test('every unit of every dimension comes back as it went in', () => {
  for (const dimension of Object.keys(DIMENSIONS) as DimensionName[]) {
    for (const unit of unitsOf(dimension)) {
      const back = inUnit(toStored({ value: 7.25, unit }, dimension), dimension, unit);
      expect(back, `${dimension} ${unit}`).toBeCloseTo(7.25, 12);
    }
  }
});

test('answers come in the usual unit of the system asked for', () => {
  expect(fromStored(101.6, 'bore', 'us')).toEqual({ value: 4, unit: 'in' });
  expect(fromStored(101.6, 'bore', 'metric')).toEqual({ value: 101.6, unit: 'mm' });
  expect(fromStored(0.01, 'slope', 'us')).toEqual({ value: 0.12, unit: 'in/ft' });
});

test('a unit of another dimension is refused, with the units that would be right', () => {
  expect(() => toStored({ value: 30, unit: 'psi' }, 'length')).toThrow(
    'psi is a unit of pressure; a length is wanted, in mm, cm, m, in, ft',
  );
  expect(() => toStored({ value: 30, unit: 'furlong' }, 'length')).toThrow('not a unit known here');
  expect(() => toStored({ value: 30, unit: 'constructor' }, 'length')).toThrow(RangeError);
  expect(() => toStored({ value: Number.NaN, unit: 'm' }, 'length')).toThrow(RangeError);
});
