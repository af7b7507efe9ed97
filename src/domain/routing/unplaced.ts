import { obstacle } from './ability.js';
import { bestInsertion, linksAllow } from './insertion.js';
import type { InsertionCache } from './insertionCache.js';
import type { Model } from './model.js';
import { spansOn } from './orderTerms.js';
import { placesOn } from './places.js';
import type { Place, UnplacedCode, UnplacedOrder } from './plan.js';
import { refresh } from './refresh.js';
import { RouteState } from './routeState.js';

/** Up to so many pairs of order and crew-day all crew-days are asked for the cheapest place, else those near by. */
const MOST_PAIRS = 20_000;
const NEAR_STOPS = 40;

type Reason = Pick<UnplacedOrder, 'code' | 'facts' | 'text'>;

/** Why each order that was left out is, and what its cheapest place would be. */
export function explainUnplaced(state: RouteState, cache: InsertionCache): UnplacedOrder[] {
  const { model } = state;
  const orders = [...state.absent.subarray(0, state.absentCount)].sort((a, b) => a - b);
  const everywhere = orders.length * model.crewDayCount <= MOST_PAIRS;
  const alone = new RouteState(model);
  for (let v = 0; v < model.crewDayCount; v++) refresh(alone, v);
  return orders.map((c) => {
    const [cheapestPlace] = placesOn(state, cache, c, everywhere ? allOf(model) : nearOf(state, c), 1);
    return {
      orderId: model.orders[c]!.id,
      ...reasonFor(state, cache, alone, c, cheapestPlace ?? null),
      cheapestPlace: cheapestPlace ?? null,
    };
  });
}

function allOf(model: Model): number[] {
  return Array.from({ length: model.crewDayCount }, (_, v) => v);
}

function nearOf(state: RouteState, c: number): number[] {
  const { neighbours, neighbourCount } = state.model;
  const routes = new Set(
    state.candidates.subarray(0, state.candidateCount).filter((v) => state.length[v] === 0),
  );
  for (let rank = 0; rank < Math.min(NEAR_STOPS, neighbourCount); rank++) {
    const v = state.routeOf[neighbours[c * neighbourCount + rank]!]!;
    if (v !== -1) routes.add(v);
  }
  return [...routes];
}

function reasonFor(
  state: RouteState,
  cache: InsertionCache,
  alone: RouteState,
  c: number,
  place: Place | null,
): Reason {
  const { model } = state;
  const able = allOf(model).filter((v) => model.able[c * model.crewDayCount + v] === 1);
  if (able.length === 0) return noCrew(model, c);
  const links = model.before[c]!.filter((link) => state.routeOf[link.order] === -1);
  if (links.length > 0) {
    const names = links.map((link) => nameOf(model, link.order));
    return reason(
      'predecessor_unplaced',
      { orderIds: links.map((link) => model.orders[link.order]!.id) },
      `must follow ${listed(names)}, which is not placed`,
    );
  }
  const reachable = able.filter((v) => bestInsertion(alone, c, v) < Infinity);
  if (reachable.length === 0) return outOfReach(model, c, able);
  const inTime = reachable.filter((v) => linksAllow(state, c, v));
  if (inTime.length === 0) {
    const names = model.before[c]!.map((link) => nameOf(model, link.order));
    return reason(
      'too_soon_after_predecessor',
      { orderIds: model.before[c]!.map((link) => model.orders[link.order]!.id) },
      `no able crew ${onDays(model, c)} late enough after ${listed(names)}`,
    );
  }
  const free = inTime.filter((v) => state.sharedKit.couldTake(c, v));
  const withTime = inTime.filter((v) => cache.costOn(c, v) < Infinity);
  if (withTime.some((v) => !free.includes(v)) && !withTime.some((v) => free.includes(v))) {
    const kinds = model.sharedKinds.filter(
      (_, k) => model.needsShared[c * model.sharedKinds.length + k] === 1,
    );
    return reason(
      'shared_kit_taken',
      { needs: kinds },
      `${kinds.map(spoken).join(' and ')} taken by other crews ${onDays(model, c)}`,
    );
  }
  if (place && place.displaces.length === 0 && free.some((v) => cache.costOn(c, v) < Infinity)) {
    return reason(
      'costs_more_than_waiting',
      { extraCost: place.extraCost, unplacedCost: model.leaveCost[c]! },
      'serving it would cost more than leaving it out',
    );
  }
  return reason(
    'no_time_left',
    { needs: model.orders[c]!.needs },
    `no time left on ${aCrew(model, c)} ${onDays(model, c)}`,
  );
}

/** No crew-day fits whatever the hour: the obstacle of the one that comes nearest. */
function noCrew(model: Model, c: number): Reason {
  const order = model.orders[c]!;
  const open = model.crewDays.filter((crewDay) => spansOn(order, crewDay.day).length > 0);
  if (open.length === 0) {
    return reason('no_crew_that_day', { days: openDays(model, c) }, `no crew works ${onDays(model, c)}`);
  }
  const codes = ['crew_not_allowed', 'no_kit', 'no_people', 'tank_too_small', 'closed_season'] as const;
  const found = open.map((crewDay) => obstacle(order, crewDay, model.sharedItems));
  const nearest = codes.findLast((code) => found.some((one) => one?.code === code))!;
  switch (nearest) {
    case 'crew_not_allowed':
      return reason(
        nearest,
        { days: openDays(model, c) },
        `no crew that is allowed to works ${onDays(model, c)}`,
      );
    case 'no_kit':
      return reason(
        nearest,
        { needs: order.needs, days: openDays(model, c) },
        `no ${crewWith(order.needs)} ${onDays(model, c)}`,
      );
    case 'no_people':
      return reason(
        nearest,
        { people: order.people },
        `no ${crewWith(order.needs)} of ${order.people} people ${onDays(model, c)}`,
      );
    case 'tank_too_small':
      return reason(
        nearest,
        { waterLitres: order.waterLitres, wasteLitres: order.wasteLitres },
        `no able crew's tanks hold ${order.waterLitres} L of water and ${order.wasteLitres} L of waste`,
      );
    case 'closed_season':
      return reason(
        nearest,
        { days: openDays(model, c) },
        `closed season for it at the depot of every able crew ${onDays(model, c)}`,
      );
    default:
      return nearest satisfies never;
  }
}

function nameOf(model: Model, c: number): string {
  return model.orders[c]!.name ?? model.orders[c]!.id;
}

/** Even with the whole day to itself no able crew makes it. */
function outOfReach(model: Model, c: number, able: readonly number[]): Reason {
  const late = able.every((v) => {
    const leg = model.locationOf[model.orderCount + v]! * model.size + model.locationOf[c]!;
    return (
      model.shiftStart[v]! + model.arcSeconds[leg]! > model.closes[c * model.dayCount + model.dayOf[v]!]!
    );
  });
  return late
    ? reason(
        'window_closed',
        { days: openDays(model, c) },
        `no able crew can be there before its hours end ${onDays(model, c)}`,
      )
    : reason(
        'shift_too_short',
        { serviceSeconds: model.orders[c]!.serviceSeconds },
        `it takes longer than the shift of any able crew ${onDays(model, c)}`,
      );
}

function reason(code: UnplacedCode, facts: Reason['facts'], text: string): Reason {
  return { code, facts, text };
}

function openDays(model: Model, c: number): string[] {
  return model.problem.days.filter((_, day) => spansOn(model.orders[c]!, day).length > 0);
}

function onDays(model: Model, c: number): string {
  const [first, ...more] = openDays(model, c);
  if (first === undefined) return 'on the days it may be done';
  return more.length === 0 ? `on ${first}` : 'on any day';
}

function aCrew(model: Model, c: number): string {
  return `a ${crewWith(model.orders[c]!.needs)}`;
}

function crewWith(needs: readonly string[]): string {
  return needs.length === 0 ? 'crew' : `crew with ${listed(needs.map(withArticle))}`;
}

function withArticle(kind: string): string {
  const name = spoken(kind);
  if (name.endsWith('s')) return name;
  return /^[aeiou]/.test(name) ? `an ${name}` : `a ${name}`;
}

function spoken(kind: string): string {
  return kind.replaceAll('_', ' ');
}

function listed(names: readonly string[]): string {
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}
