import { v7 as newId } from 'uuid';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { STEPS, type Step } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { PlanTools } from '../plans/planTools.js';
import { Refused, ruleBroken } from '../problems.js';
import { rederiveOutdated } from '../rederive.js';
import { Stopped, unlessStopped } from '../stopped.js';
import { endWaiting } from '../sync/endWaiting.js';
import { tell } from '../telling/tell.js';
import { orderPumpChecks } from '../workLife/temporaryPumps.js';
import { date, estimate } from './estimateAndDate.js';
import { NightBooks } from './nightBooks.js';
import { order } from './orderVisits.js';
import { datePits, orderPits, raiseTickets } from './pitsAndTickets.js';
import { firstPlannedDay, routeDays, seedOf } from './routeDays.js';
import { tellNight } from './tellNight.js';
import { heedConsents } from './visitConditions.js';

export interface NightAsk {
  businessDay: IsoDate;
  askedBy: string;
  /** Who holds the lease: one name a process. */
  holder: string;
  /** Run the steps again although the day is done. */
  again?: boolean;
  /** The longest search; few orders take less. */
  routeSeconds: number;
  /** Search by iterations instead of seconds: for tests, where the same question must get the same answer. */
  routeIterations?: number;
  /** Where routes are searched and travel is measured; absent: in this thread, on the great circle. */
  tools?: PlanTools;
  onProgress?: (step: Step, share: number) => void;
  /** Told of what went wrong beside the work, as a progress not written. */
  onLost?: (error: unknown, what: string) => void;
  /** Told of a part that failed and that the night goes on without. */
  onFailed?: (error: unknown, what: string) => void;
  /** A sign of life could not be written down: the lease may lapse. */
  onBeatLost?: (error: unknown) => void;
  /** The process is told to end: the run is handed back at once. */
  signal?: AbortSignal;
}

const LEASE_SECONDS = 40;
const WORKING_DAYS = 5;
/** Search beyond this gains little: 122 orders cost 0.2 % less after 16 s than after 4 s. */
const ROUTE_SECONDS_PER_ORDER = 0.02;

/** Another took the run over while this one was too slow to say that it lives; what it did of the step is undone. */
export class LeaseLost extends Error {
  constructor(runId: string) {
    super(`nightly run ${runId} was taken over by another worker`);
    this.name = 'LeaseLost';
  }
}

/**
 * One night's work for one business day: estimate, date, order, route, tell. Truth is the run and its steps: each
 * step is one transaction that also marks it done, so a kill anywhere ends in the same result as none.
 *
 * @throws {Refused} `run-under-way` while another holds a run whose lease has not lapsed.
 * @throws {LeaseLost} When another took the run over meanwhile.
 */
export async function runNight(house: House, ask: NightAsk): Promise<string> {
  const actor = { name: `night ${ask.businessDay}` };
  const claim = await house.transact(actor, (stores) => claimRun(house, stores, ask));
  if (claim.finished) return claim.runId;
  const { runId } = claim;
  // Who takes a run over asks for nothing new.
  const asked = { ...ask, askedBy: claim.askedBy };
  let unconfirmed = false;
  const beat = setInterval(
    () => {
      if (unconfirmed) ask.onBeatLost?.(new Error('the one before is not confirmed: the database is silent'));
      unconfirmed = true;
      house.stores.night
        .beat(runId, ask.holder, LEASE_SECONDS)
        .catch((error: unknown) => ask.onBeatLost?.(error))
        .finally(() => {
          unconfirmed = false;
        });
    },
    (LEASE_SECONDS * 1000) / 4,
  );
  const books = new NightBooks(house, ask.businessDay);
  try {
    await endLongWaits(house, asked, actor.name);
    for (const step of STEPS) {
      await runStep(house, asked, runId, step, books);
      if (step === 'date') await books.hands.close();
    }
    await house.transact(actor, async (stores) => {
      await mustHold(stores, ask, runId);
      await stores.rows.update('nightly_run', runId, {
        state: 'done',
        finished_at: house.clock.now().toISOString(),
        holder: null,
        lease_until: null,
        failed_because: null,
      });
    });
    return runId;
  } catch (error) {
    if (error instanceof LeaseLost) throw error;
    if (error instanceof Stopped) {
      await house.transact(actor, (stores) => handBack(stores, asked, runId));
      throw error;
    }
    const because = error instanceof Error ? error.message : String(error);
    await house.transact(actor, async (stores) => {
      await mustHold(stores, ask, runId);
      await stores.rows.update('nightly_run', runId, {
        state: 'failed',
        holder: null,
        lease_until: null,
        failed_because: because,
      });
      await tellFailed(stores, runId, ask.businessDay, because);
    });
    throw error;
  } finally {
    clearInterval(beat);
    await books.hands.close();
  }
}

/** Whoever is free goes on with the step that was not done. */
async function handBack(
  stores: Stores,
  { businessDay, askedBy, holder }: NightAsk,
  runId: string,
): Promise<void> {
  if (await stores.night.giveBack(runId, holder))
    await stores.jobs.add('night', { businessDay, askedBy }, `night:${businessDay}`);
}

/** What apps sent and waits for too long is ended before the night reads the books; if that fails, the next night's turn. */
async function endLongWaits(house: House, ask: NightAsk, by: string): Promise<void> {
  try {
    await endWaiting(house, by);
  } catch (error) {
    ask.onLost?.(error, 'what waits too long was not ended; the next night tries again');
  }
}

/** Renews the lease inside a transaction, so that nothing is kept of work on a run that is another's now. */
async function mustHold(stores: Stores, ask: NightAsk, runId: string): Promise<void> {
  if (!(await stores.night.beat(runId, ask.holder, LEASE_SECONDS))) throw new LeaseLost(runId);
}

const WENT_AWAY = 'its worker went away';

/** A night that fails says so; asked for again and failing again, it says so again. */
async function tellFailed(
  stores: Stores,
  runId: string,
  businessDay: IsoDate,
  because: string,
): Promise<void> {
  const run = await stores.rows.get('nightly_run', runId);
  await tell(stores, {
    type: 'night_failed',
    subjectId: runId,
    once: `${runId}:${String(run?.['times'])}`,
    facts: { businessDay, because },
  });
}

async function claimRun(
  house: House,
  stores: Stores,
  ask: NightAsk,
): Promise<{ runId: string; finished: boolean; askedBy: string }> {
  await refuseWhileRunning(stores);
  const { runId, finished } = await openRun(house, stores, ask);
  const askedBy = String((await stores.rows.get('nightly_run', runId))?.['asked_by']);
  if (finished) return { runId, finished, askedBy };
  // A run whose worker died: if it is another day's, it is over; its own day may be run again.
  const busy = await stores.night.running();
  if (busy && busy['id'] !== runId) {
    await stores.rows.update('nightly_run', String(busy['id']), {
      state: 'failed',
      failed_because: WENT_AWAY,
      holder: null,
    });
    await tellFailed(stores, String(busy['id']), String(busy['business_day']), WENT_AWAY);
  }
  const now = house.clock.now().toISOString();
  await stores.rows.update('nightly_run', runId, {
    state: 'running',
    holder: ask.holder,
    started_at: now,
    heartbeat_at: now,
    lease_until: new Date(Date.now() + LEASE_SECONDS * 1000).toISOString(),
    failed_because: null,
    finished_at: null,
  });
  return { runId, finished, askedBy };
}

/** @throws {Refused} `run-under-way` while a run is worked on by somebody whose lease has not lapsed. */
export async function refuseWhileRunning(stores: Stores): Promise<void> {
  const busy = await stores.night.running();
  if (busy && busy['lapsed'] !== true) {
    throw new Refused({
      code: 'run-under-way',
      runId: String(busy['id']),
      businessDay: String(busy['business_day']),
    });
  }
}

/**
 * The day's run with its steps, made when there is none; `again` makes a finished or failed one wait for all its work once more.
 *
 * @throws {Refused} `rule-broken` for a day to come, or one before the last night that is done: beliefs would go back.
 */
export async function openRun(
  house: House,
  stores: Stores,
  ask: Pick<NightAsk, 'businessDay' | 'askedBy' | 'again'>,
): Promise<{ runId: string; finished: boolean }> {
  await stores.plans.acquireDays([ask.businessDay]);
  const run = await stores.night.runOf(ask.businessDay);
  await refuseOddDay(house, stores, ask.businessDay);
  if (!run) {
    const runId = newId();
    await stores.rows.insert('nightly_run', {
      id: runId,
      business_day: ask.businessDay,
      asked_by: ask.askedBy,
    });
    for (const [i, name] of STEPS.entries())
      await stores.rows.insert('nightly_step', { id: newId(), run_id: runId, name, position: i + 1 });
    return { runId, finished: false };
  }
  const runId = String(run['id']);
  if (run['state'] !== 'done' && !(run['state'] === 'failed' && ask.again)) return { runId, finished: false };
  if (!ask.again) return { runId, finished: true };
  for (const step of await stores.rows.all('nightly_step', [{ column: 'run_id', is: '=', value: runId }]))
    await stores.rows.update('nightly_step', String(step['id']), { state: 'waiting', progress: 0 });
  await stores.rows.update('nightly_run', runId, {
    state: 'waiting',
    finished_at: null,
    times: Number(run['times']) + 1,
  });
  return { runId, finished: false };
}

async function refuseOddDay(house: House, stores: Stores, day: IsoDate): Promise<void> {
  const today = house.zone.dayOf(house.clock.now());
  if (day > today)
    throw ruleBroken(
      'business-day',
      '#/businessDay',
      `${day} is still to come`,
      `${today} or an earlier day`,
    );
  const [last] = await stores.rows.page('nightly_run', {
    where: [{ column: 'state', is: '=', value: 'done' }],
    sort: { column: 'business_day', descending: true },
    limit: 1,
  });
  const lastDay = String(last?.['business_day'] ?? day);
  if (day < lastDay)
    throw ruleBroken(
      'business-day',
      '#/businessDay',
      `${day} lies before ${lastDay}, whose night is done: what is believed would go back`,
      `${lastDay} or a later day`,
    );
}

async function runStep(
  house: House,
  ask: NightAsk,
  runId: string,
  name: Step,
  books: NightBooks,
): Promise<void> {
  const [step] = await house.stores.rows.all('nightly_step', [
    { column: 'run_id', is: '=', value: runId },
    { column: 'name', is: '=', value: name },
  ]);
  if (!step) throw new RangeError(`run ${runId} has no step ${name}`);
  if (step['state'] === 'done') return;
  const id = String(step['id']);
  const started = performance.now();
  // Progress is told outside the step's transaction, so that others see it.
  let told = 0;
  const onProgress = (share: number) => {
    ask.onProgress?.(name, share);
    if (performance.now() - told < 1000) return;
    told = performance.now();
    house.stores.rows
      .update('nightly_step', id, { progress: share })
      .catch((error: unknown) => ask.onLost?.(error, 'the progress of a step was not told'));
  };
  await house.stores.rows.update('nightly_step', id, {
    state: 'running',
    started_at: house.clock.now().toISOString(),
  });
  await house.transact({ name: `night ${ask.businessDay}` }, async (stores) => {
    const counts = await unlessStopped(work(house, stores, ask, runId, name, books, onProgress), ask.signal);
    await mustHold(stores, ask, runId);
    await stores.rows.update('nightly_step', id, {
      state: 'done',
      progress: 1,
      counts,
      seconds: (performance.now() - started) / 1000,
      finished_at: house.clock.now().toISOString(),
    });
  });
  ask.onProgress?.(name, 1);
}

async function work(
  house: House,
  stores: Stores,
  ask: NightAsk,
  runId: string,
  step: Step,
  books: NightBooks,
  onProgress: (share: number) => void,
): Promise<Record<string, number>> {
  const settings = await ownerSettings(stores);
  switch (step) {
    case 'estimate':
      await rederiveOutdated(stores);
      return estimate(house, stores, ask.businessDay, onProgress, books);
    case 'date': {
      const counts = await date(house, stores, ask.businessDay, settings, onProgress, books);
      return { ...counts, pits: await datePits(house, stores, ask.businessDay, settings) };
    }
    case 'order': {
      const counts = await order(house, stores, ask.businessDay, settings);
      return {
        ...counts,
        pitOrders: await orderPits(house, stores, ask.businessDay, settings),
        pumpOrders: await orderPumpChecks(house, stores, ask.businessDay),
        tickets: await raiseTickets(house, stores, ask.businessDay),
        consents: await heedConsents(house, stores, ask.businessDay, settings),
      };
    }
    case 'route': {
      const open = await stores.rows.count('work_order', [
        { column: 'state', is: 'in', value: ['wanted', 'placed'] },
      ]);
      const searchSeconds = Math.min(ask.routeSeconds, Math.max(1, ROUTE_SECONDS_PER_ORDER * open));
      return routeDays(house, stores, settings, {
        fromDay: firstPlannedDay(house),
        workingDays: WORKING_DAYS,
        seed: seedOf(ask.businessDay),
        searchSeconds,
        because: 'night',
        askedBy: ask.askedBy,
        ...(ask.routeIterations === undefined ? {} : { iterations: ask.routeIterations }),
        ...(ask.tools ? { tools: ask.tools } : {}),
        onProgress,
      });
    }
    case 'tell':
      return tellNight(house, stores, ask.businessDay, runId, ask.onFailed);
    default:
      return step satisfies never;
  }
}
