import { describe, expect, test } from 'vitest';
import { costAgainstRisk } from '../../../src/domain/fouling/costAgainstRisk.js';
import {
  limitsOf,
  lineCosts,
  ochreAt,
  plugConsequence,
  softDaysOf,
  systemConsequence,
  upstreamKinds,
} from '../../../src/domain/fouling/policy.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';
import { lineOf } from './knownLines.js';

describe('limits', () => {
  const limits = (kind: Parameters<typeof limitsOf>[0]['kind'], more = {}) =>
    limitsOf({ kind, underSlab: false, actionLimit: null, plugLimit: null, ...more }, DEFAULT_SETTINGS);
  test('action: discharge .40, footing .45, floor drain .45, yard .55; plug .90', () => {
    expect(limits('sump_discharge')).toEqual({ action: 0.4, plug: 0.9 });
    expect(limits('footing_drain').action).toBe(0.45);
    expect(limits('floor_drain').action).toBe(0.45);
    expect(limits('yard_drain').action).toBe(0.55);
  });
  test('under a slab .40; a limit of its own rules, never above the plug limit', () => {
    expect(limits('floor_drain', { underSlab: true }).action).toBe(0.4);
    expect(limits('yard_drain', { actionLimit: 0.3 }).action).toBe(0.3);
    expect(limits('yard_drain', { actionLimit: 0.95 }).action).toBe(0.9);
  });
});

describe('what floods', () => {
  test('a discharge takes the consequence of all that drains through it', () => {
    expect(plugConsequence('sump_discharge', ['footing_drain', 'yard_drain'], 'finished')).toEqual({
      basement: 'finished',
      wholeSystem: true,
    });
    expect(plugConsequence('sump_discharge', ['yard_drain'], 'finished')).toEqual({
      basement: 'none',
      wholeSystem: true,
    });
    expect(plugConsequence('sump_discharge', [], 'finished')).toEqual({
      basement: 'finished',
      wholeSystem: false,
    });
  });
  test('a yard drain only ponds, unless the house drains through it', () => {
    expect(plugConsequence('yard_drain', [], 'finished').basement).toBe('none');
    expect(plugConsequence('yard_drain', ['footing_drain'], 'finished').basement).toBe('finished');
  });
  test('a system counts by its worst line, in whatever order its lines come', () => {
    const floods = (kinds: Parameters<typeof systemConsequence>[0]) =>
      systemConsequence(kinds, 'finished').basement;
    expect(floods(['yard_drain'])).toBe('none');
    expect(floods(['yard_drain', 'sump_discharge'])).toBe('none');
    expect(floods(['sump_discharge'])).toBe('finished');
    expect(floods(['floor_drain', 'yard_drain'])).toBe('finished');
    expect(floods(['yard_drain', 'sump_discharge', 'floor_drain'])).toBe('finished');
  });
});

test('what runs through a line counts all the way down: floor → yard → its pit → discharge', () => {
  const lines = [
    { id: 'floor', kind: 'floor_drain' as const, belowId: 'yard' },
    { id: 'yard', kind: 'yard_drain' as const, belowId: 'discharge' },
    { id: 'discharge', kind: 'sump_discharge' as const, belowId: null },
  ];
  const upstream = upstreamKinds(lines);
  expect(upstream.get('floor')).toBeUndefined();
  expect(upstream.get('yard')).toEqual(['floor_drain']);
  expect(upstream.get('discharge')).toEqual(['floor_drain', 'yard_drain']);
  // the discharge would only pond a yard, did the floor drain not run through it too
  expect(plugConsequence('sump_discharge', upstream.get('discharge') ?? [], 'finished').basement).toBe(
    'finished',
  );
  expect(() => upstreamKinds([{ id: 'a', kind: 'yard_drain', belowId: 'a' }])).toThrow(/circle/);
});

test('ochre is known by its sight or by the water, and unknown where nobody looked or tested', () => {
  expect(ochreAt(null, ['none', 'gel'], DEFAULT_SETTINGS)).toBe('known');
  expect(ochreAt(1.5, [], DEFAULT_SETTINGS)).toBe('known');
  expect(ochreAt(0.1, [], DEFAULT_SETTINGS)).toBe('none_seen');
  expect(ochreAt(null, ['none'], DEFAULT_SETTINGS)).toBe('none_seen');
  expect(ochreAt(null, ['unknown'], DEFAULT_SETTINGS)).toBe('unknown');
  expect(softDaysOf('none_seen', true, DEFAULT_SETTINGS)).toBeNull();
});

describe('the curve of cost against risk', () => {
  const base = [0.0004, 0.001, 0.003].map((rate) => ({
    components: lineOf(0.03, rate, 0.7).components,
    limits: { action: 0.45, plug: 0.9 },
    costs: lineCosts(DEFAULT_SETTINGS, null),
  }));
  const curve = costAgainstRisk(base, [0.003, 0.01, 0.03, 0.1, 0.3], DEFAULT_SETTINGS);

  test('more risk is fewer visits and more plugs', () => {
    const risks = curve.filter(({ rule }) => rule === 'yearly_risk');
    for (let i = 1; i < risks.length; i++) {
      expect(risks[i]?.visitsPerLineYear).toBeLessThanOrEqual(risks[i - 1]?.visitsPerLineYear ?? 0);
      expect(risks[i]?.plugsPerLineYear).toBeGreaterThanOrEqual(risks[i - 1]?.plugsPerLineYear ?? 1);
    }
  });
  test('the cost-least rule is the lowest point', () => {
    const least = curve.find(({ rule }) => rule === 'cost_least')?.costPerLineYear ?? Infinity;
    for (const { costPerLineYear } of curve) expect(least).toBeLessThanOrEqual(costPerLineYear * 1.0001);
  });
  test('cost is visits and plugs by their prices, at the least', () => {
    for (const { visitsPerLineYear, plugsPerLineYear, costPerLineYear } of curve) {
      expect(costPerLineYear).toBeGreaterThanOrEqual(0.999 * (visitsPerLineYear + 25 * plugsPerLineYear));
    }
  });
});
