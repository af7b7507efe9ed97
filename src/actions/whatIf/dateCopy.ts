import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { dateLines } from '../night/dateLines.js';
import { packEvents } from '../night/packEvents.js';
import type { Row } from '../ports.js';
import type { CopiedBooks, CopiedLine } from './copiedBooks.js';

/** The night's own dates of copied lines on a day: rows of their trends, in the order of the lines. */
export function dateCopy(
  books: Pick<CopiedBooks, 'fit' | 'settings' | 'seasons'>,
  lines: readonly CopiedLine[],
  day: IsoDate,
): Row[] {
  const { columns, trends } = dateLines({
    day,
    fitId: books.fit.id,
    fit: books.fit.parameters,
    settings: books.settings,
    seasons: books.seasons,
    lines,
    events: packEvents(lines.map(({ events }) => events)),
  });
  return trends.map((values) => Object.fromEntries(columns.map((column, i) => [column, values[i]])));
}
