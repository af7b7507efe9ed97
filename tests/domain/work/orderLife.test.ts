import { expect, test } from 'vitest';
import { ATTEMPT_RESULTS, WORK_ORDER_STATES } from '../../../src/domain/words.js';
import { endEvent, mayDo, nextState, ORDER_EVENTS, statesFor } from '../../../src/domain/work/orderLife.js';

/** Every state and every event: where it leads, null where it cannot happen. */
const TABLE: Record<string, Record<string, string | null>> = {
  wanted: {
    place: 'placed',
    unplace: null,
    change: 'wanted',
    start: 'under_way',
    end_done: null,
    end_not_needed: null,
    end_partly: null,
    end_not_done: null,
    end_refused: null,
    withdraw: 'withdrawn',
  },
  placed: {
    place: 'placed',
    unplace: 'wanted',
    change: 'placed',
    start: 'under_way',
    end_done: null,
    end_not_needed: null,
    end_partly: null,
    end_not_done: null,
    end_refused: null,
    withdraw: 'withdrawn',
  },
  under_way: {
    place: null,
    unplace: null,
    change: null,
    start: null,
    end_done: 'done',
    end_not_needed: 'done',
    end_partly: 'done',
    end_not_done: 'wanted',
    end_refused: 'withdrawn',
    withdraw: null,
  },
  done: Object.fromEntries(ORDER_EVENTS.map((event) => [event, null])),
  withdrawn: Object.fromEntries(ORDER_EVENTS.map((event) => [event, null])),
};
const PAIRS = WORK_ORDER_STATES.flatMap((state) => ORDER_EVENTS.map((event) => [state, event] as const));

test('there are fifty pairs of state and event', () => {
  expect(PAIRS).toHaveLength(50);
  expect(Object.keys(TABLE)).toEqual([...WORK_ORDER_STATES]);
});

test.each(PAIRS)('%s, %s', (state, event) => {
  const next = TABLE[state]?.[event];
  expect(next).not.toBeUndefined();
  expect(nextState(state, event)).toBe(next);
  expect(statesFor(event).includes(state)).toBe(next !== null);
});

test('every result of an attempt is an event; only refused work is withdrawn by it', () => {
  expect(ATTEMPT_RESULTS.map((result) => endEvent(result, false))).toEqual([
    'end_done',
    'end_partly',
    'end_not_done',
    'end_not_needed',
  ]);
  expect(endEvent('not_done', true)).toBe('end_refused');
});

test('a technician starts and ends work; placing, changing and withdrawing are the office', () => {
  const may = ORDER_EVENTS.filter((event) => mayDo(['technician'], event));
  expect(may).toEqual(['start', 'end_done', 'end_not_needed', 'end_partly', 'end_not_done', 'end_refused']);
  expect(ORDER_EVENTS.every((event) => mayDo(['dispatcher'], event) && mayDo(['owner'], event))).toBe(true);
  expect(ORDER_EVENTS.some((event) => mayDo(['integration'], event))).toBe(false);
});
