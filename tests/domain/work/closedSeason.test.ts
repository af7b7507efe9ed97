import { expect, test } from 'vitest';
import { type ClosedSeason, closes, RAIN_TASKS } from '../../../src/domain/work/closedSeason.js';

const rain: ClosedSeason = {
  depotId: 'north',
  tasks: RAIN_TASKS,
  outsideOnly: true,
  fromDay: '2026-10-05',
  toDay: '2026-10-05',
};
const DAY = '2026-10-05';

test('a rain day drops digs and outside jetting and keeps indoor work', () => {
  expect(closes(rain, [{ kind: 'jet', lineKind: 'footing_drain' }], DAY, 'north', true)).toBe(true);
  expect(closes(rain, [{ kind: 'dig_and_replace', lineKind: 'floor_drain' }], DAY, 'north', true)).toBe(true);
  expect(closes(rain, [{ kind: 'jet', lineKind: 'floor_drain' }], DAY, 'north', true)).toBe(false);
  expect(closes(rain, [{ kind: 'clear_pit', lineKind: null }], DAY, 'north', true)).toBe(false);
  expect(closes(rain, [{ kind: 'inspect', lineKind: 'yard_drain' }], DAY, 'north', true)).toBe(false);
});

test('only on its days, and only from its depot', () => {
  const jet = [{ kind: 'jet', lineKind: 'yard_drain' }] as const;
  expect(closes(rain, jet, '2026-10-06', 'north', true)).toBe(false);
  expect(closes(rain, jet, DAY, 'south', true)).toBe(false);
  expect(closes({ ...rain, depotId: null }, jet, DAY, 'south', true)).toBe(true);
});

test('a rain day drops a flush from an outlet, and lets nothing outside move into it', () => {
  const flush = [{ kind: 'hose_flush', lineKind: 'sump_discharge' }] as const;
  const look = [{ kind: 'inspect', lineKind: 'yard_drain' }] as const;
  expect(closes(rain, flush, DAY, 'north', true)).toBe(true);
  expect(closes(rain, look, DAY, 'north', true)).toBe(false);
  expect(closes(rain, look, DAY, 'north', false)).toBe(true);
  expect(closes(rain, [{ kind: 'test_pump', lineKind: null }], DAY, 'north', false)).toBe(false);
  // A winter without digs is no weather: looks outside may be planned in it.
  const winter = { ...rain, tasks: ['dig_and_replace'] as const, toDay: '2026-12-31' };
  expect(closes(winter, look, DAY, 'north', false)).toBe(false);
});
