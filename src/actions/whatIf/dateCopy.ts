import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { type DatedLines, type DatesAsk, dateLines } from '../night/dateLines.js';
import { packEvents } from '../night/packEvents.js';
import type { Row } from '../ports.js';
import type { CopiedBooks, CopiedLine } from './copiedBooks.js';

type DatingBooks = Pick<CopiedBooks, 'fit' | 'settings' | 'seasons'>;

/** The night's question of the dates of copied lines on a day. */
export const datesAskOf = (books: DatingBooks, lines: readonly CopiedLine[], day: IsoDate): DatesAsk => ({
  day,
  fitId: books.fit.id,
  fit: books.fit.parameters,
  settings: books.settings,
  seasons: books.seasons,
  lines: lines.map(({ facts, state, policy, policyHash, old }) => ({
    facts,
    state,
    policy,
    policyHash,
    old,
  })),
  events: packEvents(lines.map(({ events }) => events)),
});

/** Rows of the trends, in the order of the lines. */
export const trendRows = ({ columns, trends }: DatedLines): Row[] =>
  trends.map((values) => Object.fromEntries(columns.map((column, i) => [column, values[i]])));

/** The night's own dates of copied lines on a day, in this thread. */
export const dateCopy = (books: DatingBooks, lines: readonly CopiedLine[], day: IsoDate): Row[] =>
  trendRows(dateLines(datesAskOf(books, lines, day)));
