import { expect, test } from 'vitest';
import type { EvidenceEvent } from '../../../src/domain/fouling/evidence.js';
import { AT_MOST, CLEAN, EXACT, lineSteps, MARK, PLUGGED } from '../../../src/domain/fouling/lineSteps.js';
import type { Phase, PlugCause } from '../../../src/domain/words.js';
import { newPipe } from './newPipe.js';

const reading = (day: number, phase: Phase, occlusion = 0.3): EvidenceEvent => ({
  kind: 'reading',
  day,
  occlusion,
  sd: 0.08,
  bound: 'exact',
  method: 'camera',
  phase,
  id: `${day}`,
});

function actionsOf(events: EvidenceEvent[], without = -1): number[] {
  return [...lineSteps([newPipe(events, 100)], 1000, without).action];
}

test('a reading after cleaning implies the clean that nobody wrote down', () => {
  expect(actionsOf([reading(200, 'after_cleaning', 0.05)])).toEqual([CLEAN, EXACT]);
  // also where that reading itself is left out, to ask whether it is a slip
  expect(actionsOf([reading(200, 'after_cleaning', 0.05)], 0)).toEqual([CLEAN]);
});

test('a clean on record is not doubled by the reading after it', () => {
  const visit: EvidenceEvent[] = [
    reading(200, 'before_cleaning'),
    { kind: 'clean', day: 200 },
    reading(200.05, 'after_cleaning', 0.05),
  ];
  expect(actionsOf(visit)).toEqual([EXACT, CLEAN, EXACT]);
});

test('a look that saw nothing says "at most half a step"', () => {
  expect(actionsOf([reading(200, 'no_cleaning', 0)])).toEqual([AT_MOST]);
});

test('only a plug of deposit, or of a cause nobody looked for, is fouling', () => {
  const plugged = (cause: PlugCause): number[] => actionsOf([{ kind: 'plugged', day: 200, cause, id: 'p' }]);
  expect(plugged('deposit')).toEqual([MARK, PLUGGED]);
  expect(plugged('unknown')).toEqual([MARK, PLUGGED]);
  for (const cause of ['ice', 'roots', 'crushed', 'debris', 'buried_outlet', 'animal'] as const) {
    expect(plugged(cause)).toEqual([]);
  }
});

test('what was found after the as-of day is left out', () => {
  expect(actionsOf([reading(200, 'no_cleaning'), reading(1001, 'no_cleaning')])).toEqual([EXACT]);
});

test('a copy, and several looks of one visit, count as one: their mean', () => {
  const valuesOf = (events: EvidenceEvent[]): number[] => [...lineSteps([newPipe(events, 100)], 1000).value];
  const before = (day: number, occlusion: number) => reading(day, 'before_cleaning', occlusion);
  expect(valuesOf([before(200, 0.3), before(200, 0.3)])).toEqual([0.3]);
  const [mean, ...none] = valuesOf([before(200, 0.2), before(200.1, 0.26), before(200.2, 0.32)]);
  expect(mean).toBeCloseTo(0.26, 12);
  expect(none).toEqual([]);
  // three of its errors apart one is a slip; another day, side of the clean or method is another look
  expect(valuesOf([before(200, 0.3), before(200, 0.7)])).toEqual([0.3, 0.7]);
  expect(valuesOf([before(200, 0.3), before(202, 0.3)])).toEqual([0.3, 0.3]);
  expect(
    valuesOf([before(200, 0.3), { kind: 'clean', day: 200 }, reading(200, 'after_cleaning', 0.3)]),
  ).toHaveLength(3);
  expect(
    valuesOf([before(200, 0.3), { ...before(200, 0.3), method: 'timed_fill' } as EvidenceEvent]),
  ).toEqual([0.3, 0.3]);
});

test('two looks that saw nothing are one that saw nothing', () => {
  expect(actionsOf([reading(200, 'no_cleaning', 0), reading(200, 'no_cleaning', 0)])).toEqual([AT_MOST]);
});
