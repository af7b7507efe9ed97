import { addDays, dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { ForeseenLaw } from '../../domain/fouling/levelForeseen.js';
import { type CalibrationReport, calibrationReport, judge } from '../../domain/fouling/selfScore.js';
import type { Bound } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';

/** Findings that come in later than this are not judged any more. */
const LATE_DAYS = 60;
/** Forecasts whose visit lies further back say little of today's model. */
export const SCORED_DAYS = 730;

/** Holds the forecasts of earlier nights against what was found since, and says where the model is off. */
export async function scoreForecasts(
  house: Pick<House, 'zone'>,
  stores: Stores,
  day: IsoDate,
): Promise<{ judged: number; report: CalibrationReport }> {
  await stores.scores.forgetStale();
  const before = house.zone.instantOf(day, 0).toISOString();
  const rows = await stores.scores.unjudged({
    from: addDays(day, -LATE_DAYS),
    before,
    zone: house.zone.name,
  });
  const laws = await stores.scores.lawsOf([...new Set(rows.map((row) => String(row['fit_id'])))]);
  const scores = rows.flatMap((row) => {
    const judgement = judgeRow(row, laws.get(String(row['fit_id'])) ?? null);
    if (!judgement) return [];
    const { dueAtOnce, ...score } = judgement;
    return [{ ...scoreOf(row), ...score, due_at_once: dueAtOnce, judged_on: day }];
  });
  await stores.scores.put(scores);
  const report = calibrationReport(await stores.scores.sums(addDays(day, -SCORED_DAYS)));
  await stores.scores.putReport(day, report);
  return { judged: scores.length, report };
}

const dayOrNull = (value: unknown): number | null => (value === null ? null : dayNumber(String(value)));
const numberOrNull = (value: unknown): number | null => (value === null ? null : Number(value));

function judgeRow(row: Row, laws: readonly ForeseenLaw[] | null) {
  return judge(
    {
      asOfDay: dayNumber(String(row['as_of'])),
      actionChances: row['action_chances'] as number[],
      actionLimit: Number(row['action_limit']),
      occlusion: Number(row['occlusion']),
      ratePerMonth: Number(row['rate_per_month']),
      cleanDay: dayOrNull(row['cleaned_on']),
      laws,
      dueDay: dayOrNull(row['due_on']),
    },
    {
      day: dayNumber(String(row['found_on'])),
      plugged: row['plug_cause'] === 'deposit' || row['plug_cause'] === 'unknown',
      occlusion: numberOrNull(row['found']),
      standardError: numberOrNull(row['standard_error']),
      bound: row['bound'] as Bound,
      confirmed: row['confirmed'] === true,
    },
  );
}

const scoreOf = (row: Row): Row => ({
  line_id: row['line_id'],
  forecast_of: row['as_of'],
  inspection_id: row['inspection_id'],
  found_on: row['found_on'],
  readings_used: row['readings_used'],
  method: row['method'],
  crew_id: row['crew_id'],
  engine_version: row['engine_version'],
});
