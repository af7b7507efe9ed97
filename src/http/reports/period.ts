import type { Period } from '../../actions/reports/lineFilter.js';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { day } from '../shapes.js';

const YEAR_DAYS = 365;

/** Days a question looks back over. */
export const PERIOD = {
  fromDay: day.optional().describe('absent: a year before toDay'),
  toDay: day.optional().describe('absent: today'),
};

export function periodOf(
  { fromDay, toDay }: { fromDay?: IsoDate | undefined; toDay?: IsoDate | undefined },
  today: IsoDate,
): Period {
  const last = toDay ?? today;
  return { fromDay: fromDay ?? addDays(last, -YEAR_DAYS), toDay: last };
}
