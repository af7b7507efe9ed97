import { expect, test } from 'vitest';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';
import { cleanTask, planVisit, type VisitLine } from '../../../src/domain/work/visitTasks.js';

const MEANS = { machines: [], assumedFreeVolumeL: 57 };
const line = (more: Partial<VisitLine>): VisitLine => ({
  lineId: 'L',
  systemId: 'S',
  kind: 'footing_drain',
  isDischarge: false,
  lengthM: 30.48,
  boreMm: 100,
  occlusion: 0.3,
  deposit: 'gel',
  unseen: false,
  stepsToPit: 1,
  walls: [{ material: 'pvc', condition: 'sound' }],
  perforated: false,
  pit: null,
  ...more,
});

test('a footing drain and the discharge of its pit are one visit: prove flow, upstream, pit, discharge, pump', () => {
  const visit = planVisit(
    [line({ lineId: 'D', kind: 'sump_discharge', isDischarge: true, stepsToPit: 0 }), line({ lineId: 'F' })],
    [{ pitId: 'P', systemId: 'S' }],
    DEFAULT_SETTINGS,
    MEANS,
  );
  expect(visit.tasks.map((task) => [task.kind, task.lineId ?? task.pitId])).toEqual([
    ['inspect', 'D'],
    ['jet', 'F'],
    ['clear_pit', 'P'],
    ['jet', 'D'],
    ['test_pump', 'P'],
  ]);
  expect(visit.people).toBe(2); // jetting takes two
  expect(visit.kit).toEqual(['jetter']);
});

test('100 ft at 4 gpm, 30 ft/min in and 15 ft/min out take 40 gal a pass, a tenth more to rinse', () => {
  // 4 gpm × (100/30 + 100/15) min = 40 gal = 151.4 L; .3 blocked takes two passes
  const task = cleanTask(line({}), MEANS);
  expect(task.plan['passes']).toBe(2);
  expect(task.waterL / 2 / 1.1).toBeGreaterThan(150);
  expect(task.waterL / 2 / 1.1).toBeLessThan(153);
});

test('a light deposit yields to a garden hose, and a line nobody saw is surveyed first', () => {
  const visit = planVisit([line({ occlusion: 0.1, unseen: true })], [], DEFAULT_SETTINGS, MEANS);
  expect(visit.tasks.map((task) => task.kind)).toEqual(['survey', 'hose_flush']);
  expect(visit.people).toBe(1);
});

test('crust is jetted from the start, with more passes than gel', () => {
  // gel .3: one pass clears .2, the next .17; crust: one .1, each further .08: 1 + ceil(.2 / .08) = 4
  expect(cleanTask(line({ occlusion: 0.1, deposit: 'crust' }), MEANS).kind).toBe('jet');
  expect(cleanTask(line({ occlusion: 0.3, deposit: 'crust' }), MEANS).plan['passes']).toBe(4);
  expect(cleanTask(line({ occlusion: 0.3, deposit: 'gel' }), MEANS).plan['passes']).toBe(2);
});

test('a slotted drain is planned with the water that carries its deposit out, 70 L/min', () => {
  const task = cleanTask(line({ perforated: true }), MEANS);
  // (30.48/.1524 + 30.48/.0762) s = 10 min a pass, two passes: 20 min × 70 L × 1.1 = 1540 L, where 4 gpm took 303
  expect(task.waterL).toBe(1540);
  expect(task.minutes).toBe(12 + 20);
});
