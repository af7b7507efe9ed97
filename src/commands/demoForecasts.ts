import { v7 as newId } from 'uuid';
import type { ClientBase } from '../actions/clientBase.js';
import type { House } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { addDays, dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import { ENGINE_VERSION } from '../domain/fouling/evidence.js';
import { fitBase } from '../domain/fouling/fitBase.js';
import { forecastLine } from '../domain/fouling/forecastLine.js';
import { limitsOf } from '../domain/fouling/policy.js';
import { STORED_AHEAD } from '../domain/fouling/selfScore.js';
import { DEFAULT_SETTINGS } from '../domain/work/settings.js';
import { evidenceFromRows } from '../files/evidenceFromRows.js';
import { bookPolicy } from './forecastPolicy.js';

const MONTH_DAYS = 365.25 / 12;

/**
 * Stores what the service would have forecast on an earlier day, from what was on the books by then and nothing
 * later, as its night would have kept it: what was found since is held against it.
 *
 * @param day In a month before the night's own.
 */
export async function keepDemoForecasts(house: House, base: ClientBase, day: IsoDate): Promise<void> {
  const readings = base.readings.filter(({ observedAt }) => observedAt < `${day}T00:00:00Z`);
  const known = new Set(readings.map(({ lineId }) => lineId));
  // What nobody had looked at by then may not have been laid.
  const lines = base.lines.filter(({ lineId }) => known.has(lineId));
  const evidence = evidenceFromRows(lines, readings, day);
  const today = dayNumber(day);
  // Every fifth line tells the shape of growth well enough for a demo, and in a fifth of the time.
  const from = fitBase(
    evidence.filter((_, i) => i % 5 === 0),
    today,
  );
  const fit = fitBase(evidence, today, { from, keepShape: true });
  const policy = bookPolicy({ lines, readings }, evidence, day);
  const ids = new Map(
    (await house.stores.rows.all('line', [])).map((row) => [String(row['external_ref']), String(row['id'])]),
  );
  const fitId = newId();
  const kept = {
    id: fitId,
    as_of: day,
    kind: 'weekly',
    // No night goes on from it.
    engine_version: `${ENGINE_VERSION}, every fifth line`,
    parameters: { ...fit, shapes: fit.shapes.map((shape) => ({ ...shape, sites: {}, lines: {} })) },
    lines: lines.length,
    readings: readings.length,
  };
  const rows = lines.flatMap((line, i): Row[] => {
    const [own, lineId] = [evidence[i], ids.get(line.lineId)];
    if (own === undefined || lineId === undefined) return [];
    const forecast = forecastLine(fit, own, today);
    const limits = limitsOf(
      { kind: line.kind, underSlab: false, actionLimit: line.threshold, plugLimit: null },
      DEFAULT_SETTINGS,
    );
    const [action, plug] = [forecast.passage(limits.action), forecast.passage(limits.plug)];
    const on = (days: number | null) => (days === null ? null : addDays(day, Math.floor(days)));
    return [
      {
        line_id: lineId,
        as_of: day,
        fit_id: fitId,
        engine_version: ENGINE_VERSION,
        evidence_hash: `books of ${day}`,
        because: 'month',
        occlusion: forecast.occlusionNow.mean,
        occlusion_sd: forecast.occlusionNow.sd,
        rate_per_month: forecast.ratePerDay.median * MONTH_DAYS,
        action_limit: limits.action,
        plug_limit: limits.plug,
        action_q10_on: on(action.quantile(0.1)),
        action_q50_on: on(action.quantile(0.5)),
        action_q90_on: on(action.quantile(0.9)),
        plug_q50_on: on(plug.quantile(0.5)),
        readings_used: forecast.readingsUsed,
        due_on: policy.due(i, forecast).dueOn,
        action_chances: STORED_AHEAD.map((days) => action.chanceBy(days)),
      },
    ];
  });
  await house.transact({ name: 'demo' }, async ({ rows: store }) => {
    await store.insert('fit', kept);
    await store.insertMany('trend_history', rows);
  });
}
