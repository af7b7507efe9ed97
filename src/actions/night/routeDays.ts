import { v7 as newId } from 'uuid';
import { addDays, dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House, Stores } from '../house.js';
import { openBooks, workingDays } from '../plans/books.js';
import { plainTools } from '../plans/plainTools.js';
import type { PlanTools } from '../plans/planTools.js';
import { askQuestion, liveStart, type Question, questionHash, withTravel } from '../plans/problem.js';
import { propose } from '../plans/propose.js';
import { refuseWrongPlan } from '../plans/refuseWrongPlan.js';
import { makePlanLive } from '../plans/settlePlan.js';
import type { Row } from '../ports.js';

export interface RouteAsk {
  fromDay: IsoDate;
  workingDays: number;
  seed: number;
  searchSeconds: number;
  /** Search by iterations instead of seconds. */
  iterations?: number;
  because: string;
  askedBy: string;
  tools?: PlanTools;
  onProgress?: (share: number) => void;
}

/**
 * Searches routes for the coming working days and makes them live, in one transaction.
 * Nothing changes when the question is the one the live plan answered.
 */
export async function routeDays(
  house: House,
  stores: Stores,
  settings: OwnerSettings,
  ask: RouteAsk,
): Promise<Record<string, number>> {
  const tools = ask.tools ?? plainTools;
  const books = await openBooks(stores, ask.fromDay);
  const toDay = workingDays(books, ask.fromDay, ask.workingDays).at(-1) ?? ask.fromDay;
  const question = await askQuestion(house, stores, settings, { fromDay: ask.fromDay, toDay });
  const inputHash = questionHash(question, ask.seed);
  const live = await livePlan(stores);
  if (live && live['input_hash'] === inputHash)
    return {
      keptPlan: 1,
      stops: Number((live['summary'] as Row)['stops']),
      unplaced: (live['unplaced'] as unknown[]).length,
    };

  const { problem, warnings } = await withTravel(question, tools);
  const start = liveStart(question);
  const plan = await tools.search(
    {
      problem,
      seed: ask.seed,
      seconds: ask.searchSeconds,
      ...(ask.iterations === undefined ? {} : { iterations: ask.iterations }),
      ...(start.some(({ orderIds }) => orderIds.length > 0) ? { start } : {}),
    },
    { onProgress: ({ share }) => ask.onProgress?.(share) },
  );
  refuseWrongPlan(problem, plan);
  await stores.plans.acquireDays(question.days);
  const planId = newId();
  await stores.rows.insert('plan', {
    id: planId,
    state: 'searching',
    from_day: firstDayOf(question) ?? ask.fromDay,
    to_day: toDay,
    because: ask.because,
    asked_by: ask.askedBy,
    seed: ask.seed,
    search_seconds: ask.searchSeconds,
    input_hash: inputHash,
  });
  const row = await propose(house, stores, planId, question, { problem, plan, warnings });
  await makePlanLive(house, stores, planId, ask.askedBy);
  const { routes, stops } = row['summary'] as { routes: number; stops: number };
  return {
    keptPlan: 0,
    routes,
    stops,
    unplaced: (row['unplaced'] as unknown[]).length,
    toPhone: (row['to_phone'] as unknown[]).length,
    iterations: plan.iterations,
  };
}

/** Also a day without shifts where crews still have routes on it: a holiday came since. */
const firstDayOf = ({ days, live }: Question): IsoDate | undefined =>
  [...days.slice(0, 1), ...live.map(({ route }) => String(route['day']))].sort()[0];

async function livePlan(stores: Stores): Promise<Row | undefined> {
  const [live] = await stores.rows.page('plan', {
    where: [{ column: 'state', is: '=', value: 'accepted' }],
    sort: { column: 'accepted_at', descending: true },
    limit: 1,
  });
  return live;
}

/** The first day the night plans: today while crews have not left, else tomorrow. */
export function firstPlannedDay(house: House): IsoDate {
  const now = house.clock.now();
  const today = house.zone.dayOf(now);
  const sinceMidnight = (now.getTime() - house.zone.instantOf(today, 0).getTime()) / 1000;
  return sinceMidnight < 6 * 3600 ? today : addDays(today, 1);
}

export const seedOf = (day: IsoDate): number => dayNumber(day);
