import { soonestPlace } from '../../domain/routing/cheapestPlaces.js';
import type { Place, Plan } from '../../domain/routing/plan.js';
import type { RoutingProblem } from '../../domain/routing/problem.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { basisOf } from './basis.js';
import { byText, callerText, instantText, rankOf } from './calls.js';
import { changesSaid } from './changesSaid.js';
import { isTooLate } from './orderAsks.js';
import { overtimeSaid } from './overtimeSaid.js';
import type { Said } from './planTools.js';
import type { Question } from './problem.js';
import { housesVisitedTwice } from './sameHouse.js';
import { storeRoutes } from './storePlan.js';
import { tanksUnknown } from './tanksUnknown.js';
import { type PlannedPlace, whomToPhone } from './toPhone.js';

export const ENGINE_VERSION = 'route-2';

/** Writes what a search found into its plan: routes, what is left out and why, whom to phone, what it rests on. */
export async function propose(
  house: House,
  stores: Stores,
  planId: string,
  question: Question,
  { problem, plan, warnings }: { problem: RoutingProblem; plan: Plan; warnings: readonly Said[] },
): Promise<Row> {
  await storeRoutes(house, stores, planId, plan, question);
  const places = placesOf(question, plan);
  const unplaced = unplacedOf(house, question, problem, plan);
  const reasons = new Map(unplaced.map(({ workOrderId, text }) => [workOrderId, text]));
  const planned = new Set([...places.keys(), ...question.live.flatMap(({ route }) => liveOrders(route))]);
  const row = await stores.rows.update('plan', planId, {
    state: 'proposed',
    progress: 1,
    engine_version: ENGINE_VERSION,
    iterations: plan.iterations,
    cost_minor: plan.cost.total,
    summary: { ...summaryOf(plan), overtime: overtimeSaid(house, question, plan) },
    unplaced: JSON.stringify(unplaced),
    warnings: JSON.stringify([
      ...callsMissed(unplaced, question),
      ...warnings,
      ...releasedLocks(question),
      ...assumedPlaces(question),
      ...callsTooLate(house, question),
      ...housesVisitedTwice(question, places),
      ...tanksUnknown(house, question, plan),
    ]),
    to_phone: JSON.stringify(
      await whomToPhone(house, stores, question, question.books.orders, places, reasons),
    ),
    basis: JSON.stringify({
      ...basisOf(question, plan.routes, planned),
      because: changesSaid(house, question, problem, plan),
    }),
    proposed_at: house.clock.now().toISOString(),
  });
  if (!row) throw new RangeError(`there is no plan ${planId}`);
  return row;
}

const liveOrders = (route: Row): string[] =>
  (route['stops'] as Row[]).flatMap((stop) =>
    stop['live'] === true && stop['order_state'] === 'placed' ? [String(stop['work_order_id'])] : [],
  );

function summaryOf(plan: Plan) {
  const sum = (of: (route: Plan['routes'][number]) => number) =>
    plan.routes.reduce((total, route) => total + of(route), 0);
  return {
    routes: plan.routes.filter(({ stops }) => stops.length > 0).length,
    stops: sum(({ stops }) => stops.filter(({ kind }) => kind === 'visit').length),
    driveSeconds: sum(({ travelSeconds }) => travelSeconds),
    driveMetres: sum(({ travelMetres }) => travelMetres),
    overtimeSeconds: sum(({ overtimeSeconds }) => overtimeSeconds),
    cost: plan.cost,
  };
}

function placesOf(question: Question, plan: Plan): Map<string, PlannedPlace> {
  return new Map(
    plan.routes.flatMap((route) => {
      const day = question.days[route.day];
      if (day === undefined) throw new RangeError(`the plan names an unknown day: ${route.day}`);
      return route.stops.flatMap((stop) =>
        stop.kind === 'visit'
          ? [[stop.orderId, { crewId: route.crewId, day, startSeconds: stop.startSeconds }] as const]
          : [],
      );
    }),
  );
}

/** Each order left out, with its reason and the cheapest place there would be; calls first, the most urgent at the head. */
function unplacedOf(house: House, question: Question, problem: RoutingProblem, plan: Plan): Unplaced[] {
  const searched = plan.unplaced.map(({ orderId, code, facts, text, cheapestPlace }) => ({
    workOrderId: orderId,
    code: String(code),
    facts: { ...facts },
    text,
    cheapestPlace: cheapestPlace && placeFacts(house, question, cheapestPlace),
  }));
  const all = [...question.outside.map((each) => ({ ...each, cheapestPlace: null })), ...searched];
  const rows = new Map(question.books.orders.map((row) => [String(row['id']), row]));
  const rank = ({ workOrderId }: Unplaced) => {
    const row = rows.get(workOrderId);
    return row ? rankOf(house, row, question.days[0] ?? '').rank : 0;
  };
  return all
    .map((each) => withCall(house, question, problem, plan, rows.get(each.workOrderId), each))
    .sort((a, b) => rank(b) - rank(a));
}

interface Unplaced extends Said {
  workOrderId: string;
  cheapestPlace: ReturnType<typeof placeFacts> | null;
}

/** A call without a place says by when nobody can be there, where somebody could be soonest, and whom to phone. */
function withCall(
  house: House,
  question: Question,
  problem: RoutingProblem,
  plan: Plan,
  row: Row | undefined,
  unplaced: Unplaced,
): Unplaced {
  if (!row || row['respond_by'] === null) return unplaced;
  const caller = callerText(row);
  const phone = caller ? `; phone ${caller}` : '; phone the client';
  if (!plan.unplaced.some(({ orderId }) => orderId === unplaced.workOrderId))
    return { ...unplaced, text: `${unplaced.text}${phone}` };
  const routes = plan.routes.map(({ crewDayId: id, stops }) => ({
    crewDayId: id,
    orderIds: stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : [])),
  }));
  const place = unplaced.cheapestPlace ? null : soonestPlace(problem, routes, unplaced.workOrderId);
  const soonest = place && placeFacts(house, question, place);
  return {
    ...unplaced,
    code: 'no_crew_in_time',
    facts: {
      ...unplaced.facts,
      because: unplaced.code,
      respondBy: new Date(String(row['respond_by'])).toISOString(),
    },
    text: `no crew can be there by ${byText(house, row)} (${unplaced.text})${soonestText(house, question, soonest)}${phone}`,
    cheapestPlace: unplaced.cheapestPlace ?? soonest,
  };
}

/** Where somebody could be soonest although it is late. */
export function soonestText(
  house: House,
  { books }: Question,
  soonest: { crewId: string; startsAt: string } | null,
): string {
  if (!soonest) return '';
  const crew = books.crews.find((row) => row['id'] === soonest.crewId);
  return `; the soonest is ${String(crew?.['name'])} at ${instantText(house, new Date(soonest.startsAt))}`;
}

export function placeFacts(house: House, question: Question, place: Place) {
  const day = question.days[place.day] ?? '';
  return {
    crewId: place.crewId,
    day,
    afterWorkOrderId: place.afterOrderId,
    startsAt: house.zone.instantOf(day, place.startSeconds).toISOString(),
    displaces: place.displaces,
    extraCostMinor: place.extraCost,
  };
}

const releasedLocks = ({ released, books }: Question): Said[] =>
  released.map(({ workOrderId, promised, because }) => {
    const row = books.orders.find((each) => each['id'] === workOrderId);
    return {
      code: promised ? 'promise_cannot_be_kept' : 'lock_released',
      facts: { workOrderId },
      text: `order ${String(row?.['number'])}: ${promised ? 'what was promised' : 'its lock'} cannot be kept (${because}); planned without it`,
    };
  });

/** Calls that no crew can answer in time: the first thing to be read. */
const callsMissed = (unplaced: readonly Unplaced[], { books }: Question): Said[] =>
  unplaced
    .filter(({ code }) => code === 'no_crew_in_time')
    .map(({ workOrderId, facts, text }) => {
      const row = books.orders.find((each) => each['id'] === workOrderId);
      return {
        code: 'call_not_answered',
        facts: { workOrderId, respondBy: facts['respondBy'] },
        text: `order ${String(row?.['number'])}, ${String(row?.['address'])}: ${text}`,
      };
    });

/** Sites nobody put on the map: their driving is a guess. */
const assumedPlaces = ({ books }: Question): Said[] =>
  books.orders
    .filter((row) => row['assumed_place'] !== null)
    .map((row) => ({
      code: 'assumed_place',
      facts: { workOrderId: row['id'], siteId: row['site_id'], place: row['assumed_place'] },
      text: `order ${String(row['number'])}, ${String(row['address'])}: no coordinates, taken to stand in the middle of ${String(row['assumed_place'])}; give the site its latitude and longitude`,
    }));

/** Calls that no crew of the planned days can answer in time: planned as early as may be, and somebody phones now. */
const callsTooLate = (house: House, question: Question): Said[] =>
  question.books.orders
    .filter((row) => row['respond_by'] !== null && row['state'] !== 'under_way')
    .filter((row) => isTooLate(new Date(String(row['respond_by'])), { house, days: question.days }))
    .map((row) => ({
      code: 'respond_by_too_early',
      facts: { workOrderId: row['id'], respondBy: row['respond_by'] },
      text: `order ${String(row['number'])}, ${String(row['address'])}: to be answered by ${localTime(house, String(row['respond_by']))}, before the first day planned; phone the client and send somebody now`,
    }));

const localTime = ({ zone }: House, instant: string): string =>
  new Date(instant).toLocaleString('en-CA', {
    timeZone: zone.name,
    dateStyle: 'short',
    timeStyle: 'short',
    hour12: false,
  });
