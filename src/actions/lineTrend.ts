import { addDays, dayNumber, daysBetween, type IsoDate, isoDate } from '../domain/calendar/isoDate.js';
import { pluggedSince } from '../domain/fouling/dueDateHistory.js';
import type { DueRule } from '../domain/fouling/dueDateReason.js';
import { ENGINE_VERSION } from '../domain/fouling/evidence.js';
import type { BaseFit } from '../domain/fouling/fitBase.js';
import { forecastLine, history } from '../domain/fouling/forecastLine.js';
import { type LinePace, linePace } from '../domain/fouling/linePace.js';
import { lineVisits } from '../domain/fouling/lineVisits.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { Bound, LineKind, Material, Method, Phase, PlugCause } from '../domain/words.js';
import type { TrendChartData } from '../papers/trendChartData.js';
import type { House } from './house.js';
import { lineFacts, nightLine } from './night/lineEvidence.js';
import { withPriors } from './night/lineState.js';
import { eventsFromRows } from './night/nightEvents.js';
import type { Row } from './ports.js';

const PAST_STEP_DAYS = 10;
const FUTURE_STEPS = 40;
const LEAST_AHEAD_DAYS = 180;

/** One line's past and coming belief as the picture needs it, computed from the stored fit. */
export async function lineTrend(house: House, trend: Row, units: UnitSystem): Promise<TrendChartData | null> {
  const asOf = String(trend['as_of']);
  const lineId = String(trend['id']);
  const got = await house.stores.answers.line(lineId, house.zone.instantOf(asOf, 0).toISOString());
  const fit = await fitOf(house, lineId);
  if (!got || !fit) return null;
  const line = nightLine(lineFacts(got.line), eventsFromRows(got.events, house.zone), asOf);
  const asOfDay = dayNumber(asOf);
  const forecast = forecastLine(fit, line.evidence, asOfDay);
  const pluggedDay = pluggedSince(lineVisits(forecast.evidence.events));
  const curve = (days: number) => (pluggedDay === null ? forecast.curve(days) : FULL);
  const pace = linePace(forecast, fit);
  const dayOf = (at: unknown): IsoDate => house.zone.dayOf(new Date(String(at)));
  const dueOn = trend['due_on'] === null ? null : String(trend['due_on']);
  const ahead = Math.max(LEAST_AHEAD_DAYS, dueOn === null ? 0 : Math.round(1.5 * daysBetween(asOf, dueOn)));
  return {
    siteName: String(got.line['address']),
    lineName: String(got.line['name']),
    kind: got.line['kind'] as LineKind,
    material: got.line['material'] as Material,
    boreMm: line.boreMm,
    units,
    today: asOf,
    readings: got.events
      .filter((row) => row['kind'] === 'reading')
      .map((row) => ({
        on: dayOf(row['at']),
        phase: row['phase'] as Phase,
        method: row['method'] as Method | null,
        occlusion: Number(row['occlusion'] ?? 1),
        standardError: Number(row['standard_error'] ?? 0.05),
        bound: row['bound'] as Bound,
        plugged: row['plug_cause'] as PlugCause | null,
        weight: row['confirmed'] === true ? 1 : Number(row['weight'] ?? 1),
        confirmed: row['confirmed'] === true,
      })),
    cleans: got.events
      .filter((row) => row['kind'] === 'clean')
      .map((row) => ({
        on: dayOf(row['at']),
        measured: got.events.some(
          (each) => each['phase'] === 'after_cleaning' && dayOf(each['at']) === dayOf(row['at']),
        ),
      })),
    past: stretches(
      history(fit, forecast.evidence, asOfDay, PAST_STEP_DAYS).map(({ day, ...band }) => ({
        on: isoDate(day),
        ...band,
      })),
      got.events.filter((row) => row['kind'] === 'clean').map((row) => dayOf(row['at'])),
    ),
    future: Array.from({ length: FUTURE_STEPS + 1 }, (_, i) => {
      const days = Math.round((i * ahead) / FUTURE_STEPS);
      return { on: addDays(asOf, days), ...curve(days) };
    }),
    limits: { action: Number(trend['action_limit']), plug: Number(trend['plug_limit']) },
    due: dueOn === null ? null : { on: dueOn, rule: trend['due_rule'] as DueRule },
    pluggedSince: pluggedDay === null ? null : isoDate(pluggedDay),
    pace: pluggedDay === null ? pace : stopped(pace),
  };
}

const FULL = { q10: 1, q50: 1, q90: 1 };

/** Full is full: nothing grows on in a line that is plugged. */
const stopped = (pace: LinePace): LinePace => ({ ...pace, occlusionFrom: 1, occlusionTo: 1, perMonth: 0 });

/** The fit its trend rests on, with the line's own prior. */
async function fitOf(house: House, lineId: string): Promise<BaseFit | null> {
  const [trend] = await house.stores.rows.all(
    'trend',
    [{ column: 'line_id', is: '=', value: lineId }],
    'line_id',
  );
  const fit = trend ? await house.stores.rows.get('fit', String(trend['fit_id'])) : null;
  if (!fit || fit['engine_version'] !== ENGINE_VERSION) return null;
  const state = (await house.stores.night.lineStates([lineId])).get(lineId);
  return withPriors(fit['parameters'] as BaseFit, state ? [{ lineId, state }] : []);
}

/** One curve per stretch between cleans. */
function stretches<T extends { on: IsoDate; q50: number }>(
  points: readonly T[],
  cleans: readonly IsoDate[],
): T[][] {
  const days = new Set(cleans);
  const out: T[][] = [];
  let current: T[] = [];
  for (const point of points) {
    const last = current.at(-1);
    if (last && days.has(point.on) && point.q50 < last.q50) {
      out.push(current);
      current = [];
    }
    current.push(point);
  }
  if (current.length > 0) out.push(current);
  return out;
}
