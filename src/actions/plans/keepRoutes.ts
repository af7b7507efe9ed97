import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { ToldRoute } from '../../domain/routing/asTold.js';
import type { House, Stores } from '../house.js';
import type { Actor } from '../ports.js';
import type { DayBook } from './dayRoutes.js';
import type { Said } from './planTools.js';
import { ENGINE_VERSION } from './propose.js';
import { makePlanLive } from './settlePlan.js';
import { storeRoutes } from './storePlan.js';

/** What was ahead on one crew's route, in sequence. */
export interface Sequence {
  crewId: string;
  day: IsoDate;
  workOrderIds: string[];
}

/** As `plan.by_hand` keeps it: what a person moved, and the routes it touched before and after. */
export interface ByHand {
  workOrderId: string;
  before: Sequence[];
  after: Sequence[];
  /** Out of the shift, by whoever is on call; absent: on the routes of the shifts. */
  onCall?: true;
  /** The stop of a shift's route that the order left for it; absent: it stood on none, or on one of these routes. */
  leftStopId?: string;
}

/** Puts routes made by hand on record as a plan and makes them what crews drive; the caller holds their days. */
export async function keepRoutes(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  book: DayBook,
  told: ReadonlyMap<string, ToldRoute>,
  made: { workOrderId: string; because: string; unplaced: readonly (Said & { workOrderId: string })[] },
): Promise<string> {
  const planId = newId();
  const scope = [...told.keys()].flatMap((id) => book.question.crewDayOf.get(id) ?? []);
  const days = scope.map(({ day }) => day).sort();
  const routes = [...told.values()].map(({ route }) => route);
  const byHand: ByHand = {
    workOrderId: made.workOrderId,
    before: sequences(book, told, (id) => book.ahead.get(id) ?? []),
    after: sequences(book, told, (id) => ordersOf(told.get(id))),
    ...(book.question.onCall ? { onCall: true, ...(await leftStop(stores, made.workOrderId)) } : {}),
  };
  await stores.rows.insert('plan', {
    id: planId,
    state: 'proposed',
    from_day: days[0],
    to_day: days.at(-1),
    because: made.because,
    asked_by: actor.name,
    seed: 0,
    search_seconds: 0,
    progress: 1,
    engine_version: ENGINE_VERSION,
    iterations: 0,
    summary: {
      routes: routes.length,
      stops: routes.reduce((sum, { stops }) => sum + stops.filter(({ kind }) => kind === 'visit').length, 0),
    },
    scope: JSON.stringify(scope),
    by_hand: JSON.stringify(byHand),
    warnings: JSON.stringify(book.warnings),
    unplaced: JSON.stringify(made.unplaced),
    proposed_at: house.clock.now().toISOString(),
  });
  await storeRoutes(house, stores, planId, { routes }, book.question, new Set(told.keys()));
  await makePlanLive(house, stores, planId, actor.name);
  return planId;
}

/** Where the order stands on a shift's route: it leaves that for whoever is on call. */
async function leftStop(stores: Stores, workOrderId: string): Promise<Pick<ByHand, 'leftStopId'>> {
  const [stop] = await stores.rows.all('stop', [
    { column: 'work_order_id', is: '=', value: workOrderId },
    { column: 'live', is: '=', value: true },
  ]);
  const route = stop && (await stores.rows.get('route', String(stop['route_id'])));
  return route && route['on_call'] !== true ? { leftStopId: String(stop['id']) } : {};
}

const ordersOf = (told: ToldRoute | undefined): string[] =>
  (told?.route.stops ?? []).flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : []));

const sequences = (
  { question }: DayBook,
  told: ReadonlyMap<string, ToldRoute>,
  ordersAt: (crewDayId: string) => readonly string[],
): Sequence[] =>
  [...told.keys()].flatMap((id) => {
    const place = question.crewDayOf.get(id);
    return place ? { ...place, workOrderIds: [...ordersAt(id)] } : [];
  });
