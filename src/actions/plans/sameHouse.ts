import { weekdayText } from '../../papers/printed.js';
import type { Row } from '../ports.js';
import type { Said } from './planTools.js';
import type { Question } from './problem.js';
import type { PlannedPlace } from './toPhone.js';

/**
 * Houses that two crews, or one on two days, drive to although nothing says that one visit must wait for the other:
 * two trips where one would do.
 */
export function housesVisitedTwice(
  { books }: Pick<Question, 'books'>,
  placeOf: ReadonlyMap<string, PlannedPlace>,
): Said[] {
  const bySite = new Map<unknown, Row[]>();
  for (const row of books.orders) {
    if (!placeOf.has(String(row['id']))) continue;
    bySite.set(row['site_id'], [...(bySite.get(row['site_id']) ?? []), row]);
  }
  return [...bySite.values()].flatMap((rows) => {
    const free = rows.filter((row) => !rows.some((other) => isLinked(row, other)));
    const trips = new Set(free.map((row) => tripOf(placeOf, row)));
    return trips.size < 2 ? [] : [told(books.crews, placeOf, free)];
  });
}

const isLinked = (a: Row, b: Row): boolean => a['follows_id'] === b['id'] || b['follows_id'] === a['id'];

function tripOf(placeOf: ReadonlyMap<string, PlannedPlace>, row: Row): string {
  const place = placeOf.get(String(row['id']));
  return `${place?.crewId} ${place?.day}`;
}

function told(crews: readonly Row[], placeOf: ReadonlyMap<string, PlannedPlace>, rows: readonly Row[]): Said {
  const trips = rows.map((row) => {
    const place = placeOf.get(String(row['id']));
    const crew = crews.find((each) => each['id'] === place?.crewId);
    const day = weekdayText(place?.day ?? '').replaceAll('\u00A0', ' ');
    return `order ${String(row['number'])} (${String(crew?.['name'])}, ${day})`;
  });
  return {
    code: 'house_visited_twice',
    facts: { siteId: rows[0]?.['site_id'], workOrderIds: rows.map((row) => row['id']) },
    text: `${String(rows[0]?.['address'])}, ${String(rows[0]?.['town'])} is driven to twice: ${trips.join(' and ')}. One visit may do: lock them to one day and crew, or make one order of them`,
  };
}
