import { expect, test } from 'vitest';
import { routeChanges } from '../../../src/domain/work/routeChanges.js';

const stop = (workOrderId: string, hour: number, minute = 0) => ({
  workOrderId,
  number: workOrderId.charCodeAt(0),
  address: workOrderId,
  startsAt: new Date(Date.UTC(2026, 9, 1, hour, minute)).toISOString(),
});
const kinds = (told: Parameters<typeof routeChanges>[0], now: Parameters<typeof routeChanges>[1]) =>
  routeChanges(told, now).map(({ kind, workOrderId }) => `${workOrderId} ${kind}`);

const told = [stop('a', 8), stop('b', 9), stop('c', 10), stop('d', 11)];

test('nothing changed is no news; a few minutes are none either', () => {
  expect(kinds(told, told)).toEqual([]);
  expect(kinds(told, [stop('a', 8, 14), ...told.slice(1)])).toEqual([]);
  expect(kinds(told, [stop('a', 8, 15), ...told.slice(1)])).toEqual(['a time']);
});

test('one visit sent to the end is one that moved, not three', () => {
  expect(kinds(told, [stop('b', 9), stop('c', 10), stop('d', 11), stop('a', 12)])).toEqual(['a moved']);
});

test('added, removed and moved are told with where and when', () => {
  const changes = routeChanges(told, [stop('c', 8), stop('a', 9), stop('b', 9, 5), stop('e', 10)]);
  expect(changes).toMatchObject([
    { kind: 'moved', workOrderId: 'c', from: { position: 3 }, to: { position: 1 } },
    { kind: 'time', workOrderId: 'a', from: { position: 1 }, to: { position: 2 } },
    { kind: 'added', workOrderId: 'e', from: null, to: { position: 4 } },
    { kind: 'removed', workOrderId: 'd', from: { position: 4 }, to: null },
  ]);
});
