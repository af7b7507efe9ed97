import { expect, test } from 'vitest';
import { pressureLimit, pressureLimits } from '../../../src/domain/jetting/pressureLimit.js';
import { CONDITIONS, MATERIALS } from '../../../src/domain/words.js';

test('worse condition, unknown facts and slots never raise the limit', () => {
  for (const material of MATERIALS) {
    const limits = CONDITIONS.map(
      (condition) => pressureLimit({ material, condition, perforated: false }).kpa,
    );
    const [sound, worn, weak, unknown] = limits;
    expect(sound).toBeGreaterThanOrEqual(worn ?? 0);
    expect(worn).toBeGreaterThanOrEqual(weak ?? 0);
    expect(unknown).toBe(weak);
    for (const condition of CONDITIONS) {
      const solid = pressureLimit({ material, condition, perforated: false }).kpa;
      expect(pressureLimit({ material, condition, perforated: true }).kpa).toBeLessThanOrEqual(solid);
    }
  }
});

test('the limit says why and from where', () => {
  expect(pressureLimit({ material: 'clay', condition: 'unknown', perforated: null })).toMatchObject({
    because: 'condition unknown counts as weak',
    at: 'pump',
  });
  expect(
    pressureLimit({ material: 'corrugated_hdpe', condition: 'unknown', perforated: null }),
  ).toMatchObject({
    because: 'corrugated pipe counts as slotted',
    at: 'nozzle',
    kpa: 1500,
  });
});

test('slots nobody knows of count as slots; a sewer is jetted as one only where somebody knows it has none', () => {
  const clay = (perforated: boolean | null) =>
    pressureLimit({ material: 'clay', condition: 'sound', perforated }).kpa;
  expect(clay(null)).toBe(clay(true));
  expect(clay(null)).toBeLessThan(clay(false) / 4);
});

test('the pump keeps its limit beside that of the nozzle', () => {
  const limits = pressureLimits({ material: 'corrugated_hdpe', condition: 'weak', perforated: true });
  // 1200 psi at the pump, 15 bar at the nozzle
  expect(limits.map(({ at, kpa }) => [at, Math.round(kpa)])).toEqual([
    ['pump', 8274],
    ['nozzle', 1500],
  ]);
});
