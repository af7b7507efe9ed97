import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { Stopped } from '../stopped.js';
import { openBooks, workingDays } from './books.js';
import type { PlanTools, SearchEars } from './planTools.js';
import { askQuestion, liveStart, MOST_DAYS, withTravel } from './problem.js';
import { propose } from './propose.js';
import { refuseWrongPlan } from './refuseWrongPlan.js';

export interface PlanAsk {
  fromDay: IsoDate;
  workingDays: number;
  /** Plan up to this day at least, in at most ten working days. */
  upTo?: IsoDate | undefined;
  searchSeconds: number;
  seed: number;
  because: string;
  askedBy: string;
  /** How dear moving a stop people rely on is against usual. */
  moveFactor?: number;
  /** A day is upset: goes ahead of ordinary searches, however many wait. */
  urgent?: boolean;
}

/** So many searches may wait for their turn before no more ordinary ones are taken on. */
const MOST_WAITING = 10;

/** Puts a plan on record that is still to be searched, and hands the search to the jobs. */
export async function askPlan(house: House, stores: Stores, ask: PlanAsk): Promise<Row> {
  const today = house.zone.dayOf(house.clock.now());
  if (ask.fromDay < today)
    throw ruleBroken('plan-days', '#/fromDay', `${ask.fromDay} is over`, `a day from ${today} on`);
  const urgent = ask.urgent ?? false;
  if (!urgent) await refuseMoreSearches(stores);
  const books = await openBooks(stores, today);
  const days = workingDays(books, ask.fromDay, MOST_DAYS).filter(
    (day, index) => index < ask.workingDays || (ask.upTo !== undefined && day <= ask.upTo),
  );
  if (days.length === 0)
    throw ruleBroken(
      'plan-days',
      '#/fromDay',
      `no crew has a shift in the three weeks from ${ask.fromDay}`,
      'give crews shifts, or plan other days',
    );
  const planId = newId();
  await handOver(stores, planId, urgent);
  return stores.rows.insert('plan', {
    id: planId,
    state: 'searching',
    from_day: await firstDay(stores, ask.fromDay, days[0] ?? ask.fromDay),
    to_day: days.at(-1),
    because: ask.because,
    asked_by: ask.askedBy,
    seed: ask.seed,
    search_seconds: ask.searchSeconds,
    move_factor: ask.moveFactor ?? 1,
  });
}

async function refuseMoreSearches(stores: Stores): Promise<void> {
  await stores.plans.acquireSearches();
  const waiting = await stores.rows.count('plan', [{ column: 'state', is: '=', value: 'searching' }]);
  if (waiting < MOST_WAITING) return;
  throw new Refused({
    code: 'clash',
    constraint: 'plan_searches_waiting',
    detail: `${waiting} searches wait for their turn.`,
    remedy: 'Discard one, or wait.',
  });
}

/** Lower numbers are worked on first; ordinary jobs have 0. */
const URGENT_PRIORITY = -10;

const handOver = (stores: Stores, planId: string, urgent: boolean): Promise<void> =>
  stores.jobs.add('plan', { planId }, `plan:${planId}`, urgent ? URGENT_PRIORITY : 0);

/** Hands a search that lost its worker to the jobs again; one after a disruption still goes ahead. */
export async function handOverAgain(house: House, planId: string): Promise<void> {
  await house.transact({ name: 'planner' }, async (stores) => {
    const reports = await stores.rows.count('disruption', [{ column: 'plan_id', is: '=', value: planId }]);
    await handOver(stores, planId, reports > 0);
  });
}

/** Days before the first one with a shift belong to the plan where crews still have routes on them: a holiday came since. */
async function firstDay(stores: Stores, fromDay: IsoDate, working: IsoDate): Promise<IsoDate> {
  const [route] = await stores.rows.page('route', {
    where: [
      { column: 'state', is: '=', value: 'live' },
      { column: 'closed_at', is: 'null' },
      { column: 'on_call', is: '=', value: false },
      { column: 'day', is: '>=', value: fromDay },
    ],
    sort: { column: 'day', descending: false },
    limit: 1,
  });
  const day = route ? String(route['day']) : working;
  return day < working ? day : working;
}

/**
 * Searches a plan on record and proposes what was found. The routes crews rely on are where the search starts:
 * the proposal is never worse than what of them can still be driven.
 *
 * @param iterations Search by iterations instead of the plan's seconds.
 * @param handBack The process is told to end: what was found so far is no proposal.
 * @throws {Stopped}
 */
export async function searchPlan(
  house: House,
  tools: PlanTools,
  planId: string,
  ears: SearchEars,
  iterations?: number,
  handBack?: AbortSignal,
): Promise<void> {
  const row = await house.stores.rows.get('plan', planId);
  if (row?.['state'] !== 'searching') return;
  const question = await askQuestion(house, house.stores, await ownerSettings(house.stores), {
    fromDay: String(row['from_day']),
    toDay: String(row['to_day']),
    moveFactor: Number(row['move_factor']),
  });
  const { problem, warnings } = await withTravel(question, tools);
  const plan = await tools.search(
    {
      problem,
      seed: Number(row['seed']),
      seconds: Number(row['search_seconds']),
      start: liveStart(question),
      ...(iterations === undefined ? {} : { iterations }),
    },
    ears,
  );
  if (handBack?.aborted) throw new Stopped();
  refuseWrongPlan(problem, plan);
  await house.transact({ name: String(row['asked_by']) }, async (stores) => {
    // Discarded meanwhile: nobody wants it any more.
    const now = await stores.rows.lock('plan', planId);
    if (now?.['state'] === 'searching')
      await propose(house, stores, planId, question, { problem, plan, warnings });
  });
}

/** A search that broke off leaves no plan, but says why. */
export async function failPlan(house: House, planId: string, because: string): Promise<void> {
  await house.transact({ name: 'planner' }, async (stores) => {
    const row = await stores.rows.lock('plan', planId);
    if (row?.['state'] === 'searching')
      await stores.rows.update('plan', planId, { state: 'discarded', failed_because: because });
  });
}
