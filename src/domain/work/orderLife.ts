import type { AttemptResult, Role, WorkOrderState } from '../words.js';

/** What can happen to a work order. */
export const ORDER_EVENTS = [
  'place',
  'unplace',
  'change',
  'start',
  'end_done',
  'end_not_needed',
  'end_partly',
  'end_not_done',
  'end_refused',
  'withdraw',
] as const;
export type OrderEvent = (typeof ORDER_EVENTS)[number];

/**
 * Where each event leads from each state; null is not possible. Partly done work is done, and what is left returns
 * as an order of its own; work not done waits for its next place; refused work is withdrawn with the decision.
 */
const NEXT: Record<WorkOrderState, Partial<Record<OrderEvent, WorkOrderState>>> = {
  wanted: { place: 'placed', change: 'wanted', start: 'under_way', withdraw: 'withdrawn' },
  placed: {
    place: 'placed',
    unplace: 'wanted',
    change: 'placed',
    start: 'under_way',
    withdraw: 'withdrawn',
  },
  under_way: {
    end_done: 'done',
    end_not_needed: 'done',
    end_partly: 'done',
    end_not_done: 'wanted',
    end_refused: 'withdrawn',
  },
  done: {},
  withdrawn: {},
};

/** State after an event; null where it cannot happen in that state. */
export const nextState = (state: WorkOrderState, event: OrderEvent): WorkOrderState | null =>
  NEXT[state][event] ?? null;

/** States in which an event can happen. */
export const statesFor = (event: OrderEvent): WorkOrderState[] =>
  (Object.keys(NEXT) as WorkOrderState[]).filter((state) => NEXT[state][event] !== undefined);

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const ON_SITE: readonly Role[] = ['technician', 'dispatcher', 'owner'];

/** Who may let it happen; a technician only on the own crew's work. */
const WHO: Record<OrderEvent, readonly Role[]> = {
  place: OFFICE,
  unplace: OFFICE,
  change: OFFICE,
  withdraw: OFFICE,
  start: ON_SITE,
  end_done: ON_SITE,
  end_not_needed: ON_SITE,
  end_partly: ON_SITE,
  end_not_done: ON_SITE,
  end_refused: ON_SITE,
};
export const mayDo = (roles: readonly Role[], event: OrderEvent): boolean =>
  WHO[event].some((role) => roles.includes(role));

/** The event that an attempt's result is; refused work ends otherwise than work that was merely not done. */
export function endEvent(result: AttemptResult, refused: boolean): OrderEvent {
  if (result === 'not_done' && refused) return 'end_refused';
  return `end_${result}`;
}
