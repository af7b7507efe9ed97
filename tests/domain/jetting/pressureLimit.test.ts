import { expect, test } from 'vitest';
import { pressureLimit } from '../../../src/domain/jetting/pressureLimit.js';
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
