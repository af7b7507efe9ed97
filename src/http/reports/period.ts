import { ruleBroken } from '../../actions/problems.js';
import type { Period } from '../../actions/reports/lineFilter.js';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { day } from '../shapes.js';

/** Days a question looks back over. */
export const PERIOD = {
  fromDay: day.optional().describe('absent: the first day of the year that ends with toDay'),
  toDay: day.optional().describe('absent: today'),
};

export function periodOf(
  { fromDay, toDay }: { fromDay?: IsoDate | undefined; toDay?: IsoDate | undefined },
  today: IsoDate,
): Period {
  const last = toDay ?? today;
  const first = fromDay ?? yearUpTo(last);
  // The query says only that of two days given the first comes first.
  if (first > last)
    throw ruleBroken(
      'period',
      '#/fromDay',
      `${first} lies after ${last}, the last day asked about`,
      `a day up to ${last}`,
    );
  return { fromDay: first, toDay: last };
}

/** First day of the year that ends with a day: of 26 November the 27th of the year before. */
function yearUpTo(day: IsoDate): IsoDate {
  const before = `${Number(day.slice(0, 4)) - 1}${day.slice(4)}`;
  return addDays(before.endsWith('-02-29') ? before.replace(/29$/, '28') : before, 1);
}
