import { addDays } from '../../domain/calendar/isoDate.js';
import { calibrationReport } from '../../domain/fouling/selfScore.js';
import type { House } from '../house.js';
import { SCORED_DAYS } from '../night/scoreForecasts.js';
import type { LinesAsked } from './lineFilter.js';

const NIGHTS_TOLD = 60;

/** How the stored forecasts of the last two years fared, of the lines asked for, and how nights saw the whole base. */
export async function honesty({ stores }: House, asked: LinesAsked) {
  const report = calibrationReport(await stores.scores.sums(addDays(asked.today, -SCORED_DAYS), asked));
  return {
    lines: await stores.reports.count(asked),
    report,
    nights: await stores.scores.nights(NIGHTS_TOLD),
  };
}
