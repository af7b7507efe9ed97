import { setImmediate as turn } from 'node:timers/promises';
import { isDeepStrictEqual } from 'node:util';
import { addDays, dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { quantilesOf } from '../../domain/statistics/histogram.js';
import { pairedDifference } from '../../domain/statistics/pairedDifference.js';
import type { House } from '../house.js';
import { ownThread } from '../night/lineWork.js';
import { mondayOf } from '../reports/dueWeeks.js';
import { crewWeek } from './crewWeek.js';
import { type Dates, YearRun } from './simulateYear.js';
import {
  AS_IT_IS,
  type Band,
  type Differences,
  QUANTITIES,
  type Quantity,
  type WeekFigures,
  type WhatIf,
  type WhatIfAnswer,
  type WhatIfRuns,
  type YearAhead,
} from './whatIfAsk.js';
import { type YearBooks, yearBooks } from './yearBooks.js';

export interface WhatIfEars {
  onProgress: (share: number) => void;
}

/**
 * Works a question through on a copy of the books: as it is, and as it would be otherwise, run by run with the same
 * chances. The same question, books and seed give the same answer. Nothing is written.
 *
 * @returns Null before the first night.
 */
export async function answerWhatIf(
  house: House,
  today: IsoDate,
  asked: WhatIf,
  runs: WhatIfRuns,
  { onProgress }: WhatIfEars,
): Promise<WhatIfAnswer | null> {
  const ways = isAsItIs(asked) ? [AS_IT_IS] : [AS_IT_IS, asked];
  const work = house.lineWork?.(Number.POSITIVE_INFINITY) ?? ownThread();
  // Without threads of its own it lets others have their turn.
  const dates: Dates = async (ask) => {
    await turn();
    return work.run('dates', ask);
  };
  const ahead: YearAhead[] = [];
  const totals: Totals[] = [];
  let books: YearBooks | null = null;
  try {
    for (const [way, one] of ways.entries()) {
      const year = await yearBooks(house, today, one);
      if (year === null) return null;
      books = year;
      const all: WeekFigures[][] = [];
      for (let run = 0; run < runs.runs; run++) {
        const tell = (week: number) =>
          onProgress((way + (run + (week + 1) / runs.weeks) / runs.runs) / ways.length);
        const { weeks, seed } = runs;
        all.push(await new YearRun({ year, asked: one, weeks, seed, run, dates }).weeks(tell));
      }
      ahead.push(yearAhead(year, one, all, today));
      totals.push(totalsOf(year, all));
    }
  } finally {
    await work.close();
  }
  const [asItIs, otherwise] = ahead;
  if (books === null || asItIs === undefined) return null;
  return {
    asOf: today,
    fitOf: books.books.fit.asOf,
    lines: books.lines,
    linesCounted: books.books.lines.length,
    asItIs,
    otherwise: otherwise ?? null,
    differences: differencesOf(totals),
  };
}

/** Of each quantity its total in every run. */
type Totals = Record<Quantity, number[]>;

const byQuantity = <T>(of: (quantity: Quantity) => T): Record<Quantity, T> =>
  Object.fromEntries(QUANTITIES.map((quantity) => [quantity, of(quantity)])) as Record<Quantity, T>;

function totalsOf({ share }: YearBooks, runs: readonly (readonly WeekFigures[])[]): Totals {
  return byQuantity((quantity) =>
    runs.map((figures) => {
      const sum = sumOf(figures, quantity) / share;
      return quantity === 'backlog' ? sum / Math.max(1, figures.length) : sum;
    }),
  );
}

function differencesOf([asItIs, otherwise]: readonly Totals[]): Differences | null {
  if (asItIs === undefined || otherwise === undefined) return null;
  return byQuantity((quantity) => pairedDifference(asItIs[quantity], otherwise[quantity]));
}

const isAsItIs = (asked: WhatIf): boolean => isDeepStrictEqual(asked, AS_IT_IS);

function yearAhead(
  year: YearBooks,
  asked: WhatIf,
  runs: readonly (readonly WeekFigures[])[],
  today: IsoDate,
): YearAhead {
  const first = isoDate(mondayOf(dayNumber(today)) + 7);
  const weeks = (runs[0] ?? []).map((_, week) => {
    const monday = addDays(first, 7 * week);
    const capacityHours = crewWeek(year.crews, monday, asked).hours;
    const hours = runs.map((figures) => (figures[week]?.hours ?? 0) / year.share);
    return {
      monday,
      capacityHours,
      usedShare: usedOf(hours, capacityHours),
      plugsSoFar: bandOf(runs.map((figures) => sumOf(figures.slice(0, week + 1), 'plugs') / year.share)),
      ...byQuantity((quantity) =>
        bandOf(runs.map((figures) => (figures[week]?.[quantity] ?? 0) / year.share)),
      ),
    };
  });
  const totals = totalsOf(year, runs);
  const hoursThere = weeks.reduce((sum, { capacityHours }) => sum + capacityHours, 0);
  return {
    weeks,
    totals: byQuantity((quantity) => bandOf(totals[quantity])),
    usedShare: usedOf(totals.hours, hoursThere),
  };
}

const usedOf = (hours: readonly number[], there: number): Band | null =>
  there > 0 ? bandOf(hours.map((each) => each / there)) : null;

const sumOf = (figures: readonly WeekFigures[], quantity: Quantity): number =>
  figures.reduce((total, figure) => total + figure[quantity], 0);

const bandOf = (values: readonly number[]): Band => quantilesOf(values) ?? { q10: 0, q50: 0, q90: 0 };
