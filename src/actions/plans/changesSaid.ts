import {
  type ChangeReason,
  changeReasons,
  type ForcedBy,
  type Saving,
} from '../../domain/routing/changeReasons.js';
import type { Plan } from '../../domain/routing/plan.js';
import type { RoutingProblem } from '../../domain/routing/problem.js';
import { crewReason, listed } from '../../domain/routing/reasons.js';
import { planChanges, type Standing } from '../../domain/work/planChanges.js';
import { currencyOf, moneyText } from '../../papers/money.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { crewDayId } from './crewDays.js';
import { notWorking } from './dayRoutes.js';
import { liveStart, type Question } from './problem.js';

/** Why an order's place changes, as a plan keeps it. */
export interface ChangeSaid {
  kind: ChangeReason['kind'];
  /** Orders it follows, or those it saves together with. */
  workOrderIds: readonly string[];
  /** Minor units; null: it is not done to save. */
  saving: Saving | null;
  text: string;
}

/** So many orders are named in a sentence; all stand in `workOrderIds`. */
const MOST_NAMED = 4;

/** Of each order whose place a plan changes: why, by work order. */
export function changesSaid(
  house: House,
  question: Question,
  problem: RoutingProblem,
  plan: Pick<Plan, 'routes'>,
): Record<string, ChangeSaid> {
  const changes = planChanges(standingNow(question), standingThen(house, question, plan));
  const reasons = changeReasons(
    problem,
    liveStart(question),
    plan,
    changes.map(({ workOrderId }) => workOrderId),
  );
  return Object.fromEntries(
    changes.flatMap((change) => {
      const why = reasons.get(change.workOrderId);
      const from = 'from' in change ? change.from : null;
      return why ? [[change.workOrderId, said(house, question, change.workOrderId, from, why)]] : [];
    }),
  );
}

const standingNow = ({ live }: Question): Standing[] =>
  live.flatMap(({ route, kept }) =>
    (route['stops'] as Row[])
      .filter((stop) => stop['kind'] === 'visit' && stop['live'] === true && !kept.includes(stop))
      .map((stop) => ({
        workOrderId: String(stop['work_order_id']),
        crewId: String(route['crew_id']),
        day: String(route['day']),
        startsAt: Date.parse(String(stop['starts_at'])),
      })),
  );

const standingThen = (house: House, { days }: Question, plan: Pick<Plan, 'routes'>): Standing[] =>
  plan.routes.flatMap((route) => {
    const day = days[route.day] ?? '';
    return route.stops.flatMap((stop) =>
      stop.kind === 'visit'
        ? [
            {
              workOrderId: stop.orderId,
              crewId: route.crewId,
              day,
              startsAt: house.zone.instantOf(day, stop.startSeconds).getTime(),
            },
          ]
        : [],
    );
  });

function said(
  house: House,
  question: Question,
  workOrderId: string,
  from: Standing | null,
  why: ChangeReason,
): ChangeSaid {
  const names = (ids: readonly string[]) => {
    const named = ids.slice(0, MOST_NAMED).map((id) => nameOf(question, id));
    return listed(ids.length > MOST_NAMED ? [...named, `${ids.length - MOST_NAMED} more`] : named);
  };
  switch (why.kind) {
    case 'forced':
      return {
        kind: why.kind,
        workOrderIds: [],
        saving: null,
        text: `forced: ${forcedText(question, workOrderId, from, why.by)}`,
      };
    case 'follows':
      return {
        kind: why.kind,
        workOrderIds: why.orderIds,
        saving: null,
        text: `follows the change of ${names(why.orderIds)}`,
      };
    case 'saves': {
      const others = why.orderIds.filter((id) => id !== workOrderId);
      const together = others.length === 0 ? '' : ` together with ${names(others)}`;
      return {
        kind: why.kind,
        workOrderIds: others,
        saving: why.saving,
        text: `saves${together}: ${savingText(house, why.saving)}`,
      };
    }
    default:
      return why satisfies never;
  }
}

function forcedText(question: Question, workOrderId: string, from: Standing | null, by: ForcedBy): string {
  const { problem } = question;
  switch (by.code) {
    case 'call':
      return 'a call that cannot wait';
    case 'not_asked_about': {
      const outside = question.outside.find((each) => each.workOrderId === workOrderId);
      return outside ? `it ${outside.text}` : 'it is no open work any more';
    }
    case 'crew_gone':
      return from ? notWorking(question, from.crewId, from.day) : 'its crew does not work';
    case 'closed_day':
      return `it cannot be done on ${from?.day ?? 'its day'} any more (its hours, a promise, or not before a later day)`;
    case 'locked_elsewhere':
      return 'it is held to another day or crew';
    case 'obstacle': {
      const order = problem.orders.find(({ id }) => id === workOrderId);
      const crewDay = problem.crewDays.find(({ id }) => id === crewDayId(from?.crewId, from?.day ?? ''));
      if (!order || !crewDay) throw new RangeError(`no order ${workOrderId} in the question`);
      return crewReason(order, crewDay, by.obstacle, problem.days).text;
    }
    case 'route_cannot_be_driven':
      return by.lateOrderId === null
        ? 'its route takes longer than its crew has'
        : `on its route the crew would be too late at ${nameOf(question, by.lateOrderId)}`;
    default:
      return by satisfies never;
  }
}

const PARTS = ['driving', 'overtime', 'waiting'] as const;

/** "USD 12 in all (driving 4, waiting 8)". */
function savingText(house: House, saving: Saving): string {
  const currency = currencyOf(house.currency);
  const money = (minor: number) => moneyText(minor, currency).replaceAll(/[\u00A0\u202F]/g, ' ');
  const parts = PARTS.filter((part) => saving[part] !== 0);
  const all = saving.driving + saving.overtime + saving.waiting;
  const told = parts.map((part) => `${part} ${money(saving[part])}`);
  return `${money(all)} in all${told.length > 1 ? ` (${told.join(', ')})` : told.length === 1 ? ` of ${parts.join('')}` : ''}`;
}

function nameOf({ books }: Question, orderId: string): string {
  const row = books.orders.find((each) => each['id'] === orderId);
  return row ? `order ${String(row['number'])}` : 'an order that is gone';
}
