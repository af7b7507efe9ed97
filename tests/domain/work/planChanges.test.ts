import { expect, test } from 'vitest';
import { planChanges } from '../../../src/domain/work/planChanges.js';

const at = (workOrderId: string, crewId: string, day: string, hour: number) => ({
  workOrderId,
  crewId,
  day,
  startsAt: Date.parse(`${day}T00:00:00Z`) + hour * 3_600_000,
});

test('each order appears once, by its largest change; less than a quarter of an hour is no news', () => {
  const now = [
    at('same', 'a', '2026-10-05', 8),
    at('later', 'a', '2026-10-05', 9),
    at('crew', 'a', '2026-10-05', 10),
    at('day', 'a', '2026-10-05', 11),
    at('gone', 'a', '2026-10-05', 12),
  ];
  const next = [
    at('same', 'a', '2026-10-05', 8.2),
    at('later', 'a', '2026-10-05', 9.25),
    at('crew', 'b', '2026-10-05', 14),
    at('day', 'b', '2026-10-06', 11),
    at('new', 'b', '2026-10-06', 9),
  ];
  expect(planChanges(now, next).map(({ kind, workOrderId }) => [workOrderId, kind])).toEqual([
    ['later', 'moved_time'],
    ['crew', 'moved_crew'],
    ['day', 'moved_day'],
    ['new', 'added'],
    ['gone', 'dropped'],
  ]);
});
