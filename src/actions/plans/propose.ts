import type { Place, Plan } from '../../domain/routing/plan.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { basisOf } from './basis.js';
import { isTooLate } from './orderAsks.js';
import type { Said } from './planTools.js';
import type { Question } from './problem.js';
import { housesVisitedTwice } from './sameHouse.js';
import { storeRoutes } from './storePlan.js';
import { type PlannedPlace, promisesToPhone } from './toPhone.js';

export const ENGINE_VERSION = 'route-2';

/** Writes what a search found into its plan: routes, what is left out and why, whom to phone, what it rests on. */
export async function propose(
  house: House,
  stores: Stores,
  planId: string,
  question: Question,
  plan: Plan,
  warnings: readonly Said[],
): Promise<Row> {
  await storeRoutes(house, stores, planId, plan, question);
  const places = placesOf(question, plan);
  const unplaced = unplacedOf(house, question, plan);
  const reasons = new Map(unplaced.map(({ workOrderId, text }) => [workOrderId, text]));
  const planned = new Set([...places.keys(), ...question.live.flatMap(({ route }) => liveOrders(route))]);
  const row = await stores.rows.update('plan', planId, {
    state: 'proposed',
    progress: 1,
    engine_version: ENGINE_VERSION,
    iterations: plan.iterations,
    cost_minor: plan.cost.total,
    summary: summaryOf(plan),
    unplaced: JSON.stringify(unplaced),
    warnings: JSON.stringify([
      ...warnings,
      ...releasedLocks(question),
      ...assumedPlaces(question),
      ...callsTooLate(house, question),
      ...housesVisitedTwice(question, places),
    ]),
    to_phone: JSON.stringify(await promisesToPhone(house, stores, question, places, reasons)),
    basis: JSON.stringify(basisOf(question, plan.routes, planned)),
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

/** Each order left out, with its reason and the cheapest place there would be. */
function unplacedOf(house: House, question: Question, plan: Plan) {
  const searched = plan.unplaced.map(({ orderId, code, facts, text, cheapestPlace }) => ({
    workOrderId: orderId,
    code: String(code),
    facts: { ...facts },
    text,
    cheapestPlace: cheapestPlace && placeFacts(house, question, cheapestPlace),
  }));
  return [...question.outside.map((each) => ({ ...each, cheapestPlace: null })), ...searched];
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
