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
  expect(closes(rain, [{ kind: 'jet', lineKind: 'footing_drain' }], DAY, 'north')).toBe(true);
  expect(closes(rain, [{ kind: 'dig_and_replace', lineKind: 'floor_drain' }], DAY, 'north')).toBe(true);
  expect(closes(rain, [{ kind: 'jet', lineKind: 'floor_drain' }], DAY, 'north')).toBe(false);
  expect(closes(rain, [{ kind: 'clear_pit', lineKind: null }], DAY, 'north')).toBe(false);
  expect(closes(rain, [{ kind: 'inspect', lineKind: 'yard_drain' }], DAY, 'north')).toBe(false);
});

test('only on its days, and only from its depot', () => {
  const jet = [{ kind: 'jet', lineKind: 'yard_drain' }] as const;
  expect(closes(rain, jet, '2026-10-06', 'north')).toBe(false);
  expect(closes(rain, jet, DAY, 'south')).toBe(false);
  expect(closes({ ...rain, depotId: null }, jet, DAY, 'south')).toBe(true);
});
