import type { CrewAbsence, CrewDayFacts, CrewRest } from '../../domain/work/crewDayFacts.js';
import type { House, Stores } from '../house.js';
import { type Books, lateCallOuts, secondsOf, shiftOf } from '../plans/books.js';
import { instantText } from '../plans/calls.js';
import { restBefore } from '../plans/crewDays.js';
import type { Row } from '../ports.js';

/**
 * Routes as read, with what hangs on the business's clock: who of a crew rests after a call-out, the midnight
 * (`midnight_at`) from which its promises count, and the business's `units`, in whose style times are said.
 */
export async function onTheClock(house: House, stores: Stores, routes: readonly Row[]): Promise<Row[]> {
  const books = await restBooks(house, stores);
  return routes.map((route) => ({
    ...route,
    units: house.units,
    midnight_at: house.zone.instantOf(String(route['day']), 0).toISOString(),
    crew_day: rested(house, books, route),
  }));
}

type RestBooks = Pick<Books, 'callOuts' | 'restHours' | 'shifts' | 'holidays' | 'memberships'> & {
  members: Row[];
};

async function restBooks(house: House, stores: Stores): Promise<RestBooks> {
  const late = await lateCallOuts(stores, house.zone.dayOf(house.clock.now()));
  if (late.callOuts.length === 0) return { ...late, shifts: [], holidays: [], memberships: [], members: [] };
  const { rows } = stores;
  const ids = [...new Set(late.callOuts.map((row) => row['member_id']))];
  return {
    ...late,
    shifts: await rows.all('shift', []),
    holidays: await rows.all('holiday', [{ column: 'archived_on', is: 'null' }]),
    memberships: await rows.all('crew_membership', [{ column: 'member_id', is: 'in', value: ids }]),
    members: await rows.all('member', [{ column: 'id', is: 'in', value: ids }], 'name'),
  };
}

/** The crew's day with its rest: the start it waits for, and who rests all of it as away. Out of shifts neither binds. */
function rested(house: House, books: RestBooks, route: Row): CrewDayFacts {
  const facts = { ...(route['crew_day'] as CrewDayFacts), rest: null };
  if (route['on_call'] === true) return { ...facts, holiday: null };
  const day = String(route['day']);
  const shift = books.callOuts.length === 0 ? null : shiftOf(books, route['crew_id'], day);
  if (!shift) return facts;
  const span = { start: secondsOf(String(shift['starts_at'])), end: secondsOf(String(shift['ends_at'])) };
  const restOf = (memberships: Row[]) =>
    restBefore(house, { ...books, memberships }, { id: route['crew_id'] }, day, span);
  const { untilSeconds, resting } = restOf(books.memberships);
  const away = resting.map(
    (memberId): CrewAbsence => ({
      id: callOutsOf(books, [memberId])[0] ?? memberId,
      memberId,
      people: null,
      comesBack: false,
      reason: 'rests after a call-out',
    }),
  );
  const late = books.members.filter(
    ({ id }) => restOf(books.memberships.filter((row) => row['member_id'] === id)).untilSeconds > span.start,
  );
  const until = house.zone.instantOf(day, untilSeconds);
  return {
    ...facts,
    away: [...facts.away, ...away],
    rest: late.length === 0 ? null : restUntil(house, books, late, until),
  };
}

function restUntil(house: House, books: RestBooks, members: readonly Row[], until: Date): CrewRest {
  const names = members.map(
    ({ name, phone }) => `${String(name)} (${String(phone ?? 'no phone on record')})`,
  );
  return {
    recordIds: callOutsOf(
      books,
      members.map(({ id }) => id),
    ),
    untilAt: until.toISOString(),
    text: `until ${instantText(house, until)}: ${names.join(', ')}`,
  };
}

const callOutsOf = ({ callOuts }: RestBooks, memberIds: readonly unknown[]): string[] =>
  callOuts.filter((row) => memberIds.includes(row['member_id'])).map((row) => String(row['id']));
