import { expect, test } from 'vitest';
import {
  type DischargeFacts,
  dischargeWorkLimit,
  LEAST_ACTION_LIMIT,
  loweredActionLimit,
} from '../../../src/domain/hydraulics/dischargeLimit.js';
import { pumpCurveFault } from '../../../src/domain/hydraulics/pumpCurve.js';

const FACTS: DischargeFacts = {
  boreMm: 40.4,
  lengthM: 18.3,
  liftM: 2.74,
  curve: [
    { flowLps: 0, headM: 6.7 },
    { flowLps: 2.27, headM: 3.05 },
    { flowLps: 3.07, headM: 0.02 },
  ],
  inflowLps: 0.9,
  pitDiameterMm: 457,
  fastestRiseMmPerMinute: null,
  c: 150,
};
const limit = (change: Partial<DischargeFacts>) => dischargeWorkLimit({ ...FACTS, ...change });

test('the more runs in, the sooner the discharge no longer does its work', () => {
  const some = limit({})?.occlusion ?? 0;
  const much = limit({ inflowLps: 1.1 })?.occlusion ?? 0;
  expect(some).toBeGreaterThan(much);
  expect(much).toBeGreaterThan(0.1);
  expect(loweredActionLimit(0.4, limit({ inflowLps: 1.1 }))).toMatchObject({
    occlusion: much,
    reason: { code: 'line-no-longer-carries' },
  });
});

test('the fastest rise anyone read counts when it is more than the books say', () => {
  // 457 mm hold .164 L a mm: 400 mm a minute is 1.09 L/s
  const read = limit({ fastestRiseMmPerMinute: 400 })?.facts.neededFlowLps ?? 0;
  expect(read).toBeCloseTo(1.5 * ((Math.PI * 0.457 ** 2) / 4) * (400 / 60), 9);
  expect(limit({ fastestRiseMmPerMinute: 10 })?.facts.neededFlowLps).toBeCloseTo(1.35, 9);
});

test.each(['boreMm', 'lengthM', 'liftM', 'curve', 'inflowLps'] as const)(
  'no limit is lowered while %s is unknown',
  (fact) => {
    expect(limit({ [fact]: null })).toBeNull();
  },
);

test('a limit never sinks to where no clean gets, and never rises', () => {
  const cleanLps = limit({})?.facts.cleanFlowLps ?? 0;
  const tight = limit({ inflowLps: (0.99 * cleanLps) / 1.5 });
  expect(tight?.occlusion).toBeLessThan(LEAST_ACTION_LIMIT);
  expect(loweredActionLimit(0.4, tight).occlusion).toBe(LEAST_ACTION_LIMIT);
  expect(loweredActionLimit(0.4, limit({ inflowLps: 0.1 })).occlusion).toBe(0.4);
  // too small even when clean: the usual limit, and a finding
  expect(loweredActionLimit(0.4, limit({ inflowLps: 3 }))).toMatchObject({
    occlusion: 0.4,
    reason: { code: 'line-too-small' },
  });
});

test('a curve that rises, has no flow at its one point, or hardly falls is no pump', () => {
  expect(pumpCurveFault([{ flowLps: 2, headM: 3 }])).toBeNull();
  expect(pumpCurveFault([{ flowLps: 0, headM: 3 }])).toContain('duty point');
  const rising = [
    { flowLps: 0, headM: 3 },
    { flowLps: 1, headM: 4 },
  ];
  expect(pumpCurveFault(rising)).toContain('head must fall');
  const flat = [
    { flowLps: 0, headM: 3 },
    { flowLps: 1, headM: 2.9999 },
  ];
  expect(pumpCurveFault(flat)).toContain('hardly falls');
});
