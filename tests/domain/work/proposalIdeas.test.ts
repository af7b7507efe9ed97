import { describe, expect, test } from 'vitest';
import {
  ideasForLine,
  ideasForPit,
  type LineFactsForIdeas,
  type PitFactsForIdeas,
} from '../../../src/domain/work/proposalIdeas.js';
import { statesBefore } from '../../../src/domain/work/proposalLife.js';

const line = (more: Partial<LineFactsForIdeas>) =>
  ideasForLine({
    material: 'pvc',
    lengthM: 30,
    hasCleanout: false,
    nozzleStops: 0,
    furthestM: null,
    longestReachM: 60,
    ratePerMonth: 0.05,
    intervalDays: 90,
    dueRule: 'risk',
    readingsUsed: 6,
    smoothRatePerMonth: 0.02,
    smoothLines: 12,
    ...more,
  });

describe('a cleanout', () => {
  test('where the nozzle stopped short twice, or the hose does not reach', () => {
    expect(line({ nozzleStops: 1, furthestM: 12 })).toEqual([]);
    expect(line({ nozzleStops: 2, furthestM: 12 })[0]?.reasons[0]?.text).toBe(
      'The nozzle stopped short 2 times in two years, at 12 m of 30 m at the furthest.',
    );
    expect(line({ lengthM: 75 })[0]).toMatchObject({
      kind: 'cleanout',
      reasons: [{ code: 'longer_than_reach' }],
    });
    expect(line({ lengthM: 75, hasCleanout: true })).toEqual([]);
    expect(line({ lengthM: null, nozzleStops: 5, furthestM: 3 })).toEqual([]);
  });
});

describe('a smooth pipe', () => {
  const corrugated = { material: 'corrugated_hdpe' } as const;

  test('spares the visits that the slower rate of PVC does not need', () => {
    // 365.25 / 90 = 4.058 visits a year; at .02 / .05 of the rate 1.623 are left
    const [idea] = line(corrugated);
    expect(idea?.kind).toBe('smooth_pipe');
    expect(idea?.visitsSavedPerYear).toBeCloseTo(2.435, 3);
    expect(idea?.reasons[0]?.text).toContain('4.1 visits a year would be 1.6');
  });

  test('spares none where another rule sets the visits, and says so', () => {
    for (const dueRule of ['hardening', 'care_terms', 'recheck', 'first_interval'] as const) {
      const [idea] = line({ ...corrugated, dueRule });
      expect(idea?.visitsSavedPerYear).toBeNull();
      expect(idea?.reasons[0]?.text).toContain('set by another rule');
    }
  });

  test('not where the pipe is smooth, fouls no faster, is hardly read, or has no peers', () => {
    expect(line({})).toEqual([]);
    expect(line({ ...corrugated, smoothRatePerMonth: 0.036 })).toEqual([]);
    expect(line({ ...corrugated, readingsUsed: 2 })).toEqual([]);
    expect(line({ ...corrugated, smoothLines: 4 })).toEqual([]);
    expect(line({ ...corrugated, intervalDays: null })).toEqual([]);
  });
});

describe('a pit', () => {
  const pit = (more: Partial<PitFactsForIdeas>) =>
    ideasForPit({
      basement: 'finished',
      pumps: 1,
      backups: 0,
      alarm: false,
      plugChanceYear: 0.02,
      calls: 0,
      floods: 0,
      plugs: 0,
      ...more,
    }).map(({ kind }) => kind);

  test('an alarm where a finished basement has none, or where water has come', () => {
    expect(pit({})).toEqual(['alarm']);
    expect(pit({ alarm: null })).toEqual([]);
    expect(pit({ alarm: true })).toEqual([]);
    expect(pit({ basement: 'basement' })).toEqual([]);
    expect(pit({ basement: 'basement', calls: 1 })).toEqual(['alarm']);
  });

  test('a second pump after a flood, or after a call from a finished basement', () => {
    expect(pit({ alarm: true, calls: 1 })).toEqual(['second_pump']);
    expect(pit({ alarm: true, floods: 1, basement: 'none' })).toEqual(['second_pump']);
    expect(pit({ alarm: true, calls: 1, backups: 1 })).toEqual([]);
  });

  test('nothing where no pump is on record', () => {
    expect(pit({ pumps: 0, floods: 3 })).toEqual([]);
  });
});

test('a proposal is answered once, after it was offered', () => {
  expect(statesBefore('offered')).toEqual(['drafted']);
  expect(statesBefore('accepted')).toEqual(['offered']);
  expect(statesBefore('withdrawn')).toEqual(['drafted', 'offered']);
});
