import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { TaskKind } from '../../domain/words.js';
import { RAIN_TASKS } from '../../domain/work/closedSeason.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Actor, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { askPlan } from './askPlan.js';
import { shiftOf } from './books.js';
import { knownCrew } from './knownCrew.js';
import { askQuestion, type Question } from './problem.js';
import { type PlannedPlace, promisesToPhone, type ToPhone } from './toPhone.js';

/** What upsets a day. */
export type Disruption =
  | { kind: 'crew_sick'; crewId: string; toDay?: IsoDate | undefined }
  | { kind: 'crew_short'; crewId: string; people?: number | undefined; memberId?: string | undefined }
  | { kind: 'crew_broken_down'; crewId: string; backAt?: string | undefined }
  | { kind: 'rain'; depotId?: string | undefined; tasks?: readonly TaskKind[] | undefined };

export interface DisruptAsk {
  day: IsoDate;
  what: Disruption;
  note: string | null;
  searchSeconds: number;
  seed: number;
}

/** Days a plan after a disruption looks ahead: what falls out today finds a place in the days after. */
const WORKING_DAYS = 5;
/** In the midst of a day stops move only where they must: so much dearer than by night (common practice, no source). */
const MOVE_FACTOR = 4;

/**
 * Puts on record what upsets a day and asks for a plan of the rest of it and the days after, from where each crew
 * is. Crews go on with their live routes until the plan is accepted.
 *
 * @returns The plan being searched, and promises that are already known to be broken.
 */
export async function disrupt(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  ask: DisruptAsk,
): Promise<{ plan: Row; toPhone: ToPhone[] }> {
  const { day, what } = ask;
  const today = house.zone.dayOf(house.clock.now());
  if (day < today) throw ruleBroken('disruption', '#/day', `${day} is over`, `a day from ${today} on`);
  const name = await record(house, stores, ask);
  const plan = await askPlan(house, stores, {
    fromDay: day,
    workingDays: WORKING_DAYS,
    upTo: await lastLiveDay(stores),
    searchSeconds: ask.searchSeconds,
    seed: ask.seed,
    because: [name, ask.note].filter(Boolean).join(': '),
    askedBy: actor.name,
    moveFactor: MOVE_FACTOR,
  });
  const question = await askQuestion(house, stores, await ownerSettings(stores), {
    fromDay: day,
    toDay: addDays(day, what.kind === 'crew_sick' ? daysSick(day, what.toDay) : 0),
  });
  return { plan, toPhone: await broken(house, stores, question) };
}

/** Days crews have routes for stay in one plan: with a nearer end, stops of its last days would be worth less. */
async function lastLiveDay(stores: Stores): Promise<IsoDate | undefined> {
  const [route] = await stores.rows.page('route', {
    where: [{ column: 'state', is: '=', value: 'live' }],
    sort: { column: 'day', descending: true },
    limit: 1,
  });
  return route && String(route['day']);
}

const daysSick = (day: IsoDate, toDay: IsoDate | undefined): number =>
  toDay === undefined ? 0 : Math.max(0, Math.round((Date.parse(toDay) - Date.parse(day)) / 86_400_000));

/** Writes the absence or closed season; what it is called in a plan's reason. */
async function record(house: House, stores: Stores, { day, what, note }: DisruptAsk): Promise<string> {
  if (what.kind === 'rain') {
    await stores.rows.insert('closed_season', {
      id: newId(),
      depot_id: what.depotId ?? null,
      tasks: what.tasks ?? RAIN_TASKS,
      outside_only: true,
      from_day: day,
      to_day: day,
      reason: note ?? 'rain',
    });
    return 'rain';
  }
  const crew = await knownCrew(stores, what.crewId);
  const absence = { id: newId(), from_day: day, to_day: day, reason: note ?? what.kind.replaceAll('_', ' ') };
  switch (what.kind) {
    case 'crew_sick':
      if (what.toDay !== undefined && what.toDay < day)
        throw ruleBroken('disruption', '#/toDay', `${what.toDay} is before ${day}`, `a day from ${day} on`);
      await stores.rows.insert('absence', { ...absence, crew_id: what.crewId, to_day: what.toDay ?? day });
      return `${String(crew['name'])} sick`;
    case 'crew_short': {
      const away = what.memberId === undefined ? { crew_id: what.crewId, people: what.people ?? 1 } : null;
      if (what.memberId !== undefined && what.people !== undefined)
        throw ruleBroken('disruption', '#/people', 'goes without memberId', 'the person, or how many');
      await stores.rows.insert('absence', { ...absence, ...(away ?? { member_id: what.memberId }) });
      return `${String(crew['name'])} ${what.people ?? 1} short`;
    }
    case 'crew_broken_down':
      await stores.rows.insert('absence', {
        ...absence,
        crew_id: what.crewId,
        ...(await breakdownTimes(house, stores, day, what)),
      });
      return `${String(crew['name'])} broken down`;
    default:
      return what satisfies never;
  }
}

async function breakdownTimes(
  house: House,
  stores: Stores,
  day: IsoDate,
  what: { crewId: string; backAt?: string | undefined },
): Promise<Row> {
  const now = house.clock.now().toISOString();
  if (what.backAt === undefined) return { from_at: day === house.zone.dayOf(house.clock.now()) ? now : null };
  if (house.zone.dayOf(new Date(what.backAt)) !== day || Date.parse(what.backAt) <= Date.parse(now))
    throw ruleBroken('disruption', '#/backAt', 'is not later on that day', `an instant later on ${day}`);
  const shifts = await stores.rows.all('shift', [{ column: 'crew_id', is: '=', value: what.crewId }]);
  const shift = shiftOf({ shifts }, what.crewId, day);
  if (!shift)
    throw ruleBroken('disruption', '#/crewId', `the crew has no shift on ${day}`, 'a crew that works');
  return { from_at: day === house.zone.dayOf(house.clock.now()) ? now : null, back_at: what.backAt };
}

/**
 * Promises that fall with the disruption whatever the search finds: their lock fits no crew any more.
 * The plan's own list follows when it is searched.
 */
async function broken(house: House, stores: Stores, question: Question): Promise<ToPhone[]> {
  const released = new Set(
    question.released.filter(({ promised }) => promised).map(({ workOrderId }) => workOrderId),
  );
  const nowhere = new Map<string, PlannedPlace>();
  return promisesToPhone(
    house,
    stores,
    { ...question, promises: question.promises.filter(({ workOrderId }) => released.has(workOrderId)) },
    nowhere,
    new Map(),
  );
}
