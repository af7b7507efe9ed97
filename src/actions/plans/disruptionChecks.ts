import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { RAIN_TASKS } from '../../domain/work/closedSeason.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { absencesOf, type Books, holds, secondsOf, shiftOf } from './books.js';
import { overtimeSecondsOf, peopleOn } from './crewDays.js';
import { crewsOut } from './crewsOut.js';
import type { DisruptAsk } from './disruption.js';
import { knownCrew } from './knownCrew.js';

const refuse = (field: string, detail: string, remedy: string) =>
  ruleBroken('disruption', `#/${field}`, detail, remedy);

/**
 * Lets no disruption through that cannot be: of a crew that does not work that day, has gone home or is away already,
 * of more people than there are, of days that are over.
 *
 * @returns The crew, where it is one crew's.
 * @throws {Refused} With the field and what would be right.
 */
export async function checkDisruption(
  house: House,
  stores: Stores,
  books: Books,
  { day, what }: DisruptAsk,
): Promise<Row | null> {
  const today = house.zone.dayOf(house.clock.now());
  if (day < today) throw refuse('day', `${day} is over`, `a day from ${today} on`);
  if (what.kind === 'rain') {
    await refuseIdleRain(house, stores, books, day, what);
    return null;
  }
  const crew = await knownCrew(stores, what.crewId);
  const toDay = what.kind === 'crew_sick' ? (what.toDay ?? day) : day;
  if (toDay < day) throw refuse('toDay', `${toDay} is before ${day}`, `a day from ${day} on`);
  const out = await crewsOut(house, stores, books);
  refuseIdleCrew(house, books, crew, day, toDay, out);
  if (what.kind === 'crew_short') await refuseMorePeople(stores, books, crew, day, what);
  if (what.kind === 'crew_broken_down' && what.backAt !== undefined)
    refuseBackAt(house, books, crew, day, what.backAt, out);
  return crew;
}

const MOST_DAYS_AWAY = 366;

/** Crews on the road after their shift, as `crewsOut`. */
type Out = ReadonlyMap<string, number>;

function refuseIdleCrew(house: House, books: Books, crew: Row, day: IsoDate, toDay: IsoDate, out: Out): void {
  const name = String(crew['name']);
  const days: IsoDate[] = [];
  for (let on = day; on <= toDay && days.length < MOST_DAYS_AWAY; on = addDays(on, 1)) days.push(on);
  const working = days.filter((on) => shiftOf(books, crew['id'], on));
  const [first] = working;
  const span = day === toDay ? `on ${day}` : `from ${day} to ${toDay}`;
  if (first === undefined) throw refuse('day', `${name} has no shift ${span}`, 'a day on which it works');
  if (working.length === 1 && isShiftOver(house, books, crew, first, out))
    throw refuse('day', `the shift of ${name} on ${first} is over`, 'a day on which it still works');
  const away = working.map((on) => wholeAbsence(books, crew, on));
  if (away.every((row) => row !== null))
    throw refuse(
      'crewId',
      `${name} is away ${span} already (${String(away[0]?.['reason'])})`,
      'a crew that is there',
    );
}

const wholeAbsence = (books: Books, crew: Row, day: IsoDate): Row | null =>
  absencesOf(books, 'crew_id', crew['id'], day).find(
    (row) => row['people'] === null && row['back_at'] === null,
  ) ?? null;

/** The crew has gone home: its shift is over, and it is not on the road any more. */
function isShiftOver(house: House, books: Books, crew: Row, day: IsoDate, out: Out): boolean {
  return !shiftOf(books, crew['id'], day) || house.clock.now() >= homeAt(house, books, crew, day, out);
}

function homeAt(house: House, books: Books, crew: Row, day: IsoDate, out: Out): Date {
  const end = secondsOf(String(shiftOf(books, crew['id'], day)?.['ends_at']));
  const today = house.zone.dayOf(house.clock.now());
  const until = day === today ? out.get(String(crew['id'])) : undefined;
  // Who has work before it is out however late it is.
  return house.zone.instantOf(day, until === undefined ? end : until + overtimeSecondsOf(books));
}

async function refuseMorePeople(
  stores: Stores,
  books: Books,
  crew: Row,
  day: IsoDate,
  { people, memberId }: { people?: number | undefined; memberId?: string | undefined },
): Promise<void> {
  const name = String(crew['name']);
  if (memberId === undefined) {
    const there = peopleOn(books, crew, day);
    const short = people ?? 1;
    if (short > there)
      throw refuse(
        'people',
        `${name} is ${there} ${there === 1 ? 'person' : 'people'} on ${day}: ${short} cannot be away`,
        there > 0 ? `1 to ${there}` : 'a crew that is there',
      );
    return;
  }
  if (people !== undefined) throw refuse('people', 'goes without memberId', 'the person, or how many');
  if (!(await stores.rows.get('member', memberId)))
    throw new Refused({
      code: 'unknown-reference',
      faults: [
        {
          pointer: '#/memberId',
          detail: `there is no person ${memberId}`,
          remedy: 'the id of a member: GET /v1/members lists them',
        },
      ],
    });
  const inCrew = books.memberships.some(
    (row) => row['crew_id'] === crew['id'] && row['member_id'] === memberId && holds(row, day),
  );
  if (!inCrew) throw refuse('memberId', `is not in ${name} on ${day}`, 'a member of that crew on that day');
  if (absencesOf(books, 'member_id', memberId, day).length > 0)
    throw refuse('memberId', `is away on ${day} already`, 'a person who is there');
}

function refuseBackAt(house: House, books: Books, crew: Row, day: IsoDate, backAt: string, out: Out): void {
  const at = new Date(backAt);
  if (house.zone.dayOf(at) !== day || at <= house.clock.now())
    throw refuse('backAt', 'is not later on that day', `an instant later on ${day}`);
  const ends = homeAt(house, books, crew, day, out);
  if (at >= ends)
    throw refuse(
      'backAt',
      'lies after the end of the shift',
      `an instant before ${ends.toISOString()}; leave it out where the crew does not go on`,
    );
}

async function refuseIdleRain(
  house: House,
  stores: Stores,
  books: Books,
  day: IsoDate,
  { depotId, tasks = RAIN_TASKS }: { depotId?: string | undefined; tasks?: readonly string[] | undefined },
): Promise<void> {
  const depot = depotId === undefined ? null : await stores.rows.get('depot', depotId);
  if (depotId !== undefined && !depot)
    throw new Refused({
      code: 'unknown-reference',
      faults: [
        {
          pointer: '#/depotId',
          detail: `there is no depot ${depotId}`,
          remedy: 'the id of a depot: GET /v1/depots lists them; absent: all',
        },
      ],
    });
  const where = depot ? ` from ${String(depot['name'])}` : '';
  const crews = books.crews.filter(
    (crew) => (depotId === undefined || crew['depot_id'] === depotId) && shiftOf(books, crew['id'], day),
  );
  if (crews.length === 0) throw refuse('day', `no crew works${where} on ${day}`, 'a day on which crews work');
  const out = await crewsOut(house, stores, books);
  if (crews.every((crew) => isShiftOver(house, books, crew, day, out)))
    throw refuse('day', `every shift${where} of ${day} is over`, 'a day on which crews still work');
  const known = books.seasons.some(
    (row) =>
      (row['depot_id'] === null || row['depot_id'] === depotId) &&
      String(row['from_day']) <= day &&
      String(row['to_day']) >= day &&
      tasks.every((task) => (row['tasks'] as string[]).includes(task)),
  );
  if (known)
    throw refuse(
      'day',
      `rain or a closed season is on record for ${day}${where} already`,
      'another day, depot or other tasks',
    );
}
