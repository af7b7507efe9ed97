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
    readingsUsed: 6,
    smooth: { asIs: { intervalDays: 60, rule: 'risk' }, withIt: { intervalDays: 91, rule: 'hardening' } },
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

  test('spares the visits of the system that no other rule brings; what binds then is said', () => {
    // 365.25 / 60 = 6.0875 visits a year, 365.25 / 91 = 4.0137 with the smooth pipe
    const [idea] = line(corrugated);
    expect(idea?.kind).toBe('smooth_pipe');
    expect(idea?.visitsSavedPerYear).toBeCloseTo(2.0738, 4);
    expect(idea?.reasons[0]?.facts).toMatchObject({
      systemDaysNow: 60,
      systemDaysThen: 91,
      ruleThen: 'hardening',
    });
    expect(idea?.reasons[0]?.text).toContain(
      'every 60 days for this system, 6.1 times a year; with a new smooth pipe every 91 days, 4.0 times: then ochre there must go before it hardens.',
    );
  });

  test('is no idea where the house is visited as often as before, or hardly less', () => {
    const visited = (then: number) =>
      line({
        ...corrugated,
        smooth: {
          asIs: { intervalDays: 90, rule: 'risk' },
          withIt: { intervalDays: then, rule: 'hardening' },
        },
      });
    expect(visited(90)).toEqual([]);
    expect(visited(85)).toEqual([]);
    // 365.25 / 90 - 365.25 / 95 = 0.2136, less than a quarter of a visit; at 96 days 0.2536
    expect(visited(95)).toEqual([]);
    expect(visited(96)).toHaveLength(1);
    expect(line({ ...corrugated, smooth: null })).toEqual([]);
  });

  test('not where the pipe is smooth, fouls no faster, is hardly read, or has no peers', () => {
    expect(line({})).toEqual([]);
    expect(line({ ...corrugated, smoothRatePerMonth: 0.036 })).toEqual([]);
    expect(line({ ...corrugated, readingsUsed: 2 })).toEqual([]);
    expect(line({ ...corrugated, smoothLines: 4 })).toEqual([]);
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
