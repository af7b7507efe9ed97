import { addDays } from '../../domain/calendar/isoDate.js';
import { calibrationReport } from '../../domain/fouling/selfScore.js';
import type { House } from '../house.js';
import { SCORED_DAYS } from '../night/scoreForecasts.js';
import { inPeriod, type LinesAsked } from './lineFilter.js';

const NIGHTS_TOLD = 60;

/** How the stored forecasts of the last two years fared, of the lines asked for, and how nights saw the whole base. */
export async function honesty({ stores }: House, asked: LinesAsked) {
  const fromDay = addDays(asked.today, -SCORED_DAYS);
  const past = inPeriod(asked, { fromDay });
  const report = calibrationReport(await stores.scores.sums(fromDay, past));
  return {
    lines: await stores.reports.count(past),
    report,
    nights: await stores.scores.nights(NIGHTS_TOLD),
  };
}
