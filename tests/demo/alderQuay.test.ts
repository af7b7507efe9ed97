import { expect, test } from 'vitest';
import { alderQuay } from '../../src/demo/alderQuay.js';

test('the same day and seed, the same business', () => {
  expect(JSON.stringify(alderQuay('2026-09-30'))).toBe(JSON.stringify(alderQuay('2026-09-30')));
});

test('it looks like a real one: hundreds of sites, two years of visits, few plugs, nothing in the future', () => {
  const { sites, lines, readings, crews } = alderQuay('2026-09-30');
  expect(sites.length).toBe(300);
  expect(lines.length).toBeGreaterThan(500);
  expect(crews.length).toBe(5);
  const visits = readings.filter(({ phase }) => phase === 'before_cleaning').length / lines.length / 2;
  expect(visits).toBeGreaterThan(1.5); // a year and line
  expect(visits).toBeLessThan(7);
  const plugged = readings.filter(({ plugged: is }) => is).length / readings.length;
  expect(plugged).toBeGreaterThan(0);
  expect(plugged).toBeLessThan(0.05);
  expect(
    readings.every(
      ({ observedAt, occlusion }) =>
        observedAt < '2026-09-30' && (occlusion === null || (occlusion >= 0 && occlusion <= 1)),
    ),
  ).toBe(true);
});
