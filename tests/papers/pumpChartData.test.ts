import { expect, test } from 'vitest';
import { pumpCurve } from '../../src/domain/hydraulics/pumpCurve.js';
import { pumpChartData } from '../../src/papers/pumpChartData.js';

test('the figure names the fittings that were counted, and says so where none was', () => {
  const pump = pumpCurve([
    { flowLps: 0, headM: 6.7 },
    { flowLps: 2, headM: 3 },
  ]);
  const basisOf = (fittings: object) =>
    pumpChartData(
      pump,
      { boreMm: 40.9, lengthM: 18, liftM: 2.7, friction: { law: 'hazen_williams', c: 150 }, fittings },
      { occlusion: 0.3, shape: 'even_coat' },
      null,
      'pump',
      'metric',
    ).basis.replaceAll(/[\u00A0\u202F]/g, ' ');
  expect(basisOf({ swing_check: 1, elbow_90: 3 })).toContain(
    '18 m, 1 swing check and 3 90° elbows, 2.7 m lift',
  );
  expect(basisOf({})).toContain('18 m, no fittings counted, 2.7 m lift');
});
