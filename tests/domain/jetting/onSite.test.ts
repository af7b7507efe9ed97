import { expect, test } from 'vitest';
import { occlusionOfPasses, passesFor } from '../../../src/domain/jetting/passes.js';
import { pitOverflow } from '../../../src/domain/jetting/pitOverflow.js';
import { learnedFactor, siteMinutes, TASK_MINUTES } from '../../../src/domain/jetting/siteMinutes.js';
import { waterPlan } from '../../../src/domain/jetting/waterSupply.js';
import { DEPOSITS } from '../../../src/domain/words.js';

test('passes rise with occlusion, and a count of passes says the occlusion back', () => {
  for (const deposit of DEPOSITS) {
    for (const occlusion of [0, 0.1, 0.2, 0.37, 0.5, 0.8, 1]) {
      const passes = passesFor(occlusion, deposit);
      expect(passes).toBeGreaterThanOrEqual(1);
      expect(passesFor(Math.min(1, occlusion + 0.2), deposit)).toBeGreaterThanOrEqual(passes);
      if (deposit !== 'none')
        expect(occlusionOfPasses(passes, deposit)).toBeGreaterThanOrEqual(occlusion - 1e-9);
    }
  }
  expect(() => passesFor(1.1, 'gel')).toThrow(RangeError);
});

test('jetting toward the house fills the pit in minutes while its pump is locked out', () => {
  // 60 L free, .25 + .15 L/s: 150 s
  const pit = { freeVolumeL: 60, jetLps: 0.25, inflowLps: 0.15, takenOutLps: 0, minutesNeeded: 10 };
  const short = pitOverflow(pit);
  expect(short.minutes).toBeCloseTo(2.5, 9);
  expect(short.needed?.code).toBe('second-pump-needed');
  // 600 s: .4 − 60/600 = .3 L/s must go, and with that it is just enough
  expect(short.takeOutLps).toBeCloseTo(0.3, 9);
  expect(pitOverflow({ ...pit, takenOutLps: 0.3 + 1e-9 })).toMatchObject({ enough: true, needed: null });
  expect(pitOverflow({ ...pit, takenOutLps: 0.5 }).minutes).toBeNull();
});

test('the tap runs while the jet does; the tank gives the rest, with refills counted', () => {
  // 800 L, tap .2 L/s for 20 min: 240 L; 560 L from tanks of 200 L: three tanks, two refills
  expect(waterPlan(800, 20, { tankL: 200, tapLps: 0.2 })).toMatchObject({
    fromTapL: 240,
    fromTankL: 560,
    refills: 2,
    finding: { code: 'refill-needed' },
  });
  expect(waterPlan(200, 20, { tankL: 0, tapLps: 0.2 })).toMatchObject({ fromTankL: 0, finding: null });
  expect(waterPlan(800, 20, { tankL: 0, tapLps: 0.2 }).finding?.code).toBe('water-short');
});

test('minutes on site: once to arrive and leave, each task at the pace of the crew', () => {
  const jet = { kind: 'jet', runMinutes: 20, factor: 1.2 } as const;
  const inspect = { kind: 'inspect', runMinutes: 0, factor: 1 } as const;
  expect(siteMinutes([inspect, jet])).toBeCloseTo(
    20 + TASK_MINUTES.inspect + 1.2 * (TASK_MINUTES.jet + 20),
    9,
  );
});

test('a crew that takes longer is planned longer, the more attempts the closer', () => {
  const slow = { plannedMinutes: 30, takenMinutes: 45 };
  expect(learnedFactor([])).toBe(1);
  // one attempt: .0225 / (.0225 + .1225) = .155 of log 1.5: 1.065
  expect(learnedFactor([slow])).toBeCloseTo(1.5 ** (0.0225 / 0.145), 9);
  const many = learnedFactor(Array.from({ length: 60 }, () => slow));
  expect(many).toBeGreaterThan(1.4);
  expect(many).toBeLessThan(1.5);
  // a clock left running over night counts as five times at most
  expect(learnedFactor([{ plannedMinutes: 30, takenMinutes: 30_000 }])).toBeLessThan(1.3);
  expect(learnedFactor([{ plannedMinutes: 30, takenMinutes: 0 }])).toBe(1);
});
