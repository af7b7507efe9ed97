import { v7 as newId } from 'uuid';
import { addDays, daysBetween, type IsoDate } from '../../domain/calendar/isoDate.js';
import { noCrewInTime } from '../../domain/routing/reasons.js';
import { RAIN_TASKS } from '../../domain/work/closedSeason.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Actor, Row } from '../ports.js';
import { askPlan } from './askPlan.js';
import { openBooks } from './books.js';
import type { DisruptAsk, Disruption } from './disruption.js';
import { checkDisruption } from './disruptionChecks.js';
import { askQuestion, type Question } from './problem.js';
import { type ToPhone, whomToPhone } from './toPhone.js';

/** Days a plan after a disruption looks ahead: what falls out today finds a place in the days after. */
const WORKING_DAYS = 5;
/** In the midst of a day stops move only where they must: so much dearer than by night (common practice, no source). */
const MOVE_FACTOR = 4;

/**
 * Puts on record what upsets a day and asks for a plan of the rest of it and the days after, from where each crew
 * is. Crews go on with their live routes until the plan is accepted.
 *
 * @returns The report, the plan being searched, and promises that are already known to be broken.
 * @throws {Refused} What `checkDisruption` throws.
 */
export async function disrupt(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  ask: DisruptAsk,
): Promise<{ disruption: Row; plan: Row; toPhone: ToPhone[] }> {
  const { day, what } = ask;
  const books = await openBooks(stores, house.zone.dayOf(house.clock.now()));
  const crew = await checkDisruption(house, stores, books, ask);
  const recorded = await record(house, stores, ask);
  const name = [nameOf(what, crew), ask.note].filter(Boolean).join(': ');
  const plan = await askPlan(house, stores, {
    fromDay: day,
    workingDays: WORKING_DAYS,
    upTo: await lastLiveDay(stores),
    searchSeconds: ask.searchSeconds,
    seed: ask.seed,
    because: name,
    askedBy: actor.name,
    moveFactor: MOVE_FACTOR,
    urgent: true,
  });
  const toDay = lastDayOf(ask);
  const disruption = await stores.rows.insert('disruption', {
    id: newId(),
    kind: what.kind,
    day,
    to_day: toDay,
    name,
    ...recorded,
    plan_id: plan['id'],
    reported_by: actor.name,
  });
  const question = await askQuestion(house, stores, await ownerSettings(stores), {
    fromDay: day,
    toDay: addDays(day, Math.max(0, daysBetween(day, toDay))),
  });
  return { disruption, plan, toPhone: await broken(house, stores, question) };
}

const lastDayOf = ({ day, what }: DisruptAsk): IsoDate =>
  what.kind === 'crew_sick' ? (what.toDay ?? day) : day;

/** Days crews have routes for stay in one plan: with a nearer end, stops of its last days would be worth less. */
async function lastLiveDay(stores: Stores): Promise<IsoDate | undefined> {
  const [route] = await stores.rows.page('route', {
    where: [
      { column: 'state', is: '=', value: 'live' },
      { column: 'on_call', is: '=', value: false },
    ],
    sort: { column: 'day', descending: true },
    limit: 1,
  });
  return route && String(route['day']);
}

/** What a disruption is called in a plan's reason. */
function nameOf(what: Disruption, crew: Row | null): string {
  const name = String(crew?.['name']);
  switch (what.kind) {
    case 'rain':
      return 'rain';
    case 'crew_sick':
      return `${name} sick`;
    case 'crew_short':
      return `${name} ${what.people ?? 1} short`;
    case 'crew_broken_down':
      return `${name} broken down`;
    default:
      return what satisfies never;
  }
}

/** Writes the absence or closed season; which it is. */
async function record(house: House, stores: Stores, { day, what, note }: DisruptAsk): Promise<Row> {
  const id = newId();
  if (what.kind === 'rain') {
    await stores.rows.insert('closed_season', {
      id,
      depot_id: what.depotId ?? null,
      tasks: what.tasks ?? RAIN_TASKS,
      outside_only: true,
      from_day: day,
      to_day: day,
      reason: note ?? 'rain',
    });
    return { closed_season_id: id };
  }
  await stores.rows.insert('absence', {
    id,
    from_day: day,
    to_day: day,
    reason: note ?? what.kind.replaceAll('_', ' '),
    ...awayOf(house, day, what),
  });
  return { absence_id: id };
}

function awayOf(house: House, day: IsoDate, what: Exclude<Disruption, { kind: 'rain' }>): Row {
  switch (what.kind) {
    case 'crew_sick':
      return { crew_id: what.crewId, to_day: what.toDay ?? day };
    case 'crew_short':
      return what.memberId === undefined
        ? { crew_id: what.crewId, people: what.people ?? 1 }
        : { member_id: what.memberId };
    case 'crew_broken_down': {
      const now = house.clock.now();
      return {
        crew_id: what.crewId,
        from_at: day === house.zone.dayOf(now) ? now.toISOString() : null,
        ...(what.backAt === undefined ? {} : { back_at: what.backAt }),
      };
    }
    default:
      return what satisfies never;
  }
}

/**
 * Promises and calls that fall with the disruption whatever the search finds: no crew fits their lock, or can be there
 * in time, any more. The plan's own list follows when it is searched.
 */
async function broken(house: House, stores: Stores, question: Question): Promise<ToPhone[]> {
  const released = new Set(
    question.released.filter(({ promised }) => promised).map(({ workOrderId }) => workOrderId),
  );
  const promises = question.promises.filter(({ workOrderId }) => released.has(workOrderId));
  return whomToPhone(
    house,
    stores,
    { ...question, promises },
    callsNobodyCanAnswer(question),
    new Map(),
    new Map(),
  );
}

/** Calls that no crew at work could come to before their time even if it stood at the door. */
function callsNobodyCanAnswer({ books, problem }: Question): Row[] {
  return books.orders.filter((row) => {
    const order = problem.orders.find(({ id }) => id === row['id']);
    return row['respond_by'] !== null && order !== undefined && noCrewInTime(order, problem) !== null;
  });
}
