import { expect, test } from 'vitest';
import { DEFAULT_SETTINGS, settingsWith } from '../../../src/domain/work/settings.js';

test('an owner changes one number of a group and keeps the rest', () => {
  const settings = settingsWith({ limits: { action: { yard_drain: 0.5 } }, growth: { factor: 1.2 } });
  expect(settings.limits.action).toEqual({
    sump_discharge: 0.4,
    footing_drain: 0.45,
    floor_drain: 0.45,
    yard_drain: 0.5,
  });
  expect(settings.limits.plug).toBe(0.9);
  expect(settings.growth.factor).toBe(1.2);
  expect(DEFAULT_SETTINGS.growth.factor).toBe(1.5);
});

test('a list is replaced as a whole', () => {
  expect(settingsWith({ firstIntervals: { afterPlugDays: [20, 40] } }).firstIntervals.afterPlugDays).toEqual([
    20, 40,
  ]);
});

test('a name that is no setting is refused', () => {
  const changes: object = { growth: { faktor: 2 } };
  expect(() => settingsWith(changes)).toThrow(RangeError);
});
