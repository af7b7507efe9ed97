import { expect, test } from 'vitest';
import { isReference, letGoFaults, sludgeInto, takesNone } from '../../../src/domain/work/waterRules.js';

test('a reference is a number of a permit, or words that name who gave leave', () => {
  for (const words of ['P-12', 'S-1', 'WR 1004/26', 'letter of the town clerk', '許可書'])
    expect(isReference(words), words).toBe(true);
  for (const words of [null, '', ' ', 'x', '-', '1', 'yes', 'none']) expect(isReference(words)).toBe(false);
});

test('sludge to a drain or water is read out of its words; a place called after one takes it', () => {
  expect(sludgeInto('storm drain')).toBe('storm drain');
  expect(sludgeInto('into the Creek behind the house')).toBe('Creek');
  expect(sludgeInto('stormsewers by the kerb')).toBe('stormsewers');
  for (const words of [
    null,
    'depot',
    'Creek Road transfer station',
    'Pond Street works',
    'caught, kept away from storm drains',
    'waste stream of the depot',
  ])
    expect(sludgeInto(words)).toBeNull();
});

test('water and sludge go by one rule: a drain or water takes them with a reference only', () => {
  const fields = (letGo: Partial<Parameters<typeof letGoFaults>[0]>) =>
    letGoFaults({ receiver: 'caught', permitRef: null, sludgeTo: 'depot', ...letGo }).map(
      ({ field }) => field,
    );
  expect(fields({})).toEqual([]);
  expect(fields({ receiver: 'storm_drain' })).toEqual(['permitRef']);
  expect(fields({ receiver: 'water_body', permitRef: 'x' })).toEqual(['permitRef']);
  expect(fields({ sludgeTo: 'storm drain' })).toEqual(['sludgeTo']);
  expect(fields({ receiver: 'storm_drain', sludgeTo: 'the creek', permitRef: 'P-12' })).toEqual([]);
});

test('nobody takes no water of a jet', () => {
  expect(takesNone('none', ['inspect', 'jet'])).toBe(true);
  expect(takesNone('none', ['inspect', 'clear_pit'])).toBe(false);
  expect(takesNone('caught', ['jet'])).toBe(false);
});
