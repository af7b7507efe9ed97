import type { RouteFault } from '../../domain/routing/check.js';
import { clockText, weekdayText } from '../../papers/printed.js';
import type { House } from '../house.js';
import type { Said } from './planTools.js';
import type { Question } from './problem.js';

/** What the independent checker found, in a dispatcher's words: order number, address, crew and day. */
export function faultSaid(house: House, question: Question, fault: RouteFault): Said {
  const place = fault.crewDayId === undefined ? undefined : question.crewDayOf.get(fault.crewDayId);
  const crewDay = question.problem.crewDays.find(({ id }) => id === fault.crewDayId);
  return {
    code: 'cannot_be_driven',
    facts: {
      fault: fault.code,
      ...(fault.orderId === undefined ? {} : { workOrderId: fault.orderId }),
      ...(place ? { crewId: place.crewId, day: place.day } : {}),
    },
    text: wordsOf(house, question, fault, {
      crew: crewDay?.crewName ?? 'a crew',
      day: place ? weekdayText(place.day) : 'a day that is not planned',
    }).replaceAll(/[\u00A0\u202F]/g, ' '),
  };
}

function wordsOf(
  house: House,
  question: Question,
  fault: RouteFault,
  { crew, day }: { crew: string; day: string },
): string {
  const order = orderText(question, fault.orderId);
  const at = clockText(fault.seconds ?? 0, house.units);
  const planned = `${order}, planned with ${crew} on ${day}`;
  switch (fault.code) {
    case 'leaves_too_early':
      return `${crew} cannot leave before ${at} on ${day}, and was to leave earlier`;
    case 'unknown_order':
      return `${planned}, waits for no visit any more`;
    case 'runs_dry':
      return `${crew} runs out of water on ${day} at ${order}`;
    case 'waste_runs_over':
      return `the waste tank of ${crew} is full on ${day} before ${order}`;
    case 'out_of_sequence':
      return `${planned}, is locked to another place in the sequence`;
    case 'no_refill_site':
      return `${crew} was to fill or empty its tanks at ${at} on ${day}, and no depot does that there any more`;
    case 'back_too_late':
      return `${crew} would be back at ${at} on ${day}, past the overtime a plan may use`;
    case 'outside_hours':
      return `${planned} at ${at}, when the house is not open to it`;
    case 'locked_elsewhere':
      return `${planned}, is locked to another day or crew`;
    case 'outside_locked_hour':
      return `${planned} at ${at}, is locked to another hour`;
    case 'crew_not_allowed':
      return `${planned}, is not for that crew`;
    case 'closed_season':
      return `${planned}, falls into a closed season`;
    case 'too_few_people':
      return `${planned}, takes ${fault.people} people`;
    case 'kit_missing':
      return `${planned}, takes a ${fault.kit?.replaceAll('_', ' ')}, which that crew does not have`;
    case 'break_outside_window':
      return `${crew} would not have its break in time on ${day}`;
    case 'too_soon_after':
      return `${planned}, comes too soon after ${orderText(question, fault.beforeId)}, which it follows`;
    case 'shared_kit':
      return `${crew} was to fetch shared kit on ${day} that it cannot have`;
    case 'does_not_add_up':
      return `the times of ${crew} on ${day} are not as the books have them now`;
    default:
      return fault.code satisfies never;
  }
}

function orderText({ books }: Question, orderId: string | undefined): string {
  const row = books.orders.find((each) => each['id'] === orderId);
  return row ? `order ${String(row['number'])}, ${String(row['address'])}` : 'an order';
}
