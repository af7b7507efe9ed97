import { expect, test } from 'vitest';
import { z } from 'zod';
import { measured } from '../../src/http/fields.js';
import { shapeFaults } from '../../src/http/shapeFaults.js';
import { day, id, instant, timeOfDay } from '../../src/http/shapes.js';

const BODY = z.strictObject({ at: instant, day, from: timeOfDay, id, depth: measured('pitSize') });
const RIGHT = {
  at: '2026-10-01T08:30:00+02:00',
  day: '2026-10-01',
  from: '07:30',
  id: '019abcde-0000-7000-8000-000000000001',
  depth: { value: 4, unit: 'ft' },
};
const faults = (sent: object) =>
  shapeFaults((BODY.safeParse(sent).error?.issues ?? []) as never, 'body', sent).faults;

test('what is missing or of another type is told with its format and an example that is right', () => {
  const missing = faults({});
  expect(missing.map(({ pointer, detail, remedy }) => [pointer, detail, remedy])).toEqual([
    ['#/at', 'is missing', 'an instant as 2026-10-01T08:30:00Z'],
    ['#/day', 'is missing', 'a day as 2026-10-01'],
    ['#/from', 'is missing', 'a time of day as 07:30'],
    ['#/id', 'is missing', 'an id as 019abcde-0000-7000-8000-000000000001'],
    ['#/depth', 'is missing', 'a quantity as {"value":4,"unit":"ft"}'],
  ]);
  expect(faults({ ...RIGHT, at: 1_790_000_000 })).toMatchObject([
    { pointer: '#/at', detail: '1790000000: expected an instant as 2026-10-01T08:30:00Z' },
  ]);
  expect(faults({ ...RIGHT, at: null })[0]?.remedy).toBe('an instant as 2026-10-01T08:30:00Z');
  expect(faults({ ...RIGHT, at: 'yesterday' })[0]?.remedy).toBe('an instant as 2026-10-01T08:30:00Z');
  expect(faults({ ...RIGHT, at: '2026-10-01' })[0]?.remedy).toBe('an instant as 2026-10-01T08:30:00Z');
  expect(faults(RIGHT)).toEqual([]);
});
