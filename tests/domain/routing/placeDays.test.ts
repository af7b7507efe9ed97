import { expect, test } from 'vitest';
import { placeDays } from '../../../src/domain/routing/placeDays.js';
import { order } from './problems.js';

test('a place counts for the days on which an order there is open, a depot for all', () => {
  const orders = [
    order('x', 1, { lock: { day: 0 } }),
    order('y', 2, { windows: [{ day: 2, fromSeconds: 0, toSeconds: 9 }] }),
    order('z', 2, { windows: [{ day: 1, fromSeconds: 0, toSeconds: 9 }] }),
    order('free', 3),
  ];
  const days = ['Monday', 'Tuesday', 'Wednesday'];
  // Monday is bit 1, Tuesday 2, Wednesday 4.
  expect([...placeDays({ days, orders }, 5)]).toEqual([7, 1, 6, 7, 7]);
});
