import { createHash } from 'node:crypto';
import { v7 as newId } from 'uuid';
import { addDays, dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { dueDate } from '../../domain/fouling/dueDate.js';
import { lineHistory } from '../../domain/fouling/dueDateHistory.js';
import type { CareTerms, ClientDecision, ClosedSeason, DueDate } from '../../domain/fouling/dueDateInput.js';
import { ENGINE_VERSION, type LineForecast } from '../../domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../domain/fouling/fitBase.js';
import { forecastLine } from '../../domain/fouling/forecastLine.js';
import type { FirstPassage } from '../../domain/fouling/passage.js';
import { limitsOf, ochreAt, plugConsequence, upstreamKinds } from '../../domain/fouling/policy.js';
import type { LineKind } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type NightLine, nightLines } from './lineEvidence.js';
import { withWorkLimits } from './workLimits.js';

/** The shared shape is searched again on Mondays, or when there is none of this engine. */
const WEEKLY_DAY = 1;
const MONTH_DAYS = 365.25 / 12;
/** Days ahead whose chances are stored with a trend, for the cost of waiting. */
const STORED_AHEAD = [0, 7, 14, 30, 60, 90, 180, 365];

async function loadLines(house: House, stores: Stores, day: IsoDate): Promise<NightLine[]> {
  const before = house.zone.instantOf(day, 0).toISOString();
  return nightLines(await stores.night.lines(day), await stores.night.events(before), day);
}

/** Step `estimate`: what the lines share, from all that was found before the business day. */
export async function estimate(
  house: House,
  stores: Stores,
  day: IsoDate,
  onProgress: (share: number) => void,
): Promise<Record<string, number>> {
  const lines = await loadLines(house, stores, day);
  onProgress(0.1);
  const [last] = await stores.rows.page('fit', {
    where: [
      { column: 'engine_version', is: '=', value: ENGINE_VERSION },
      { column: 'as_of', is: '<', value: day },
    ],
    sort: { column: 'as_of', descending: true },
    limit: 1,
  });
  const from = last ? (last['parameters'] as BaseFit) : undefined;
  const weekly = !from || new Date(`${day}T00:00:00Z`).getUTCDay() === WEEKLY_DAY;
  const fit = fitBase(
    lines.map(({ evidence }) => evidence),
    dayNumber(day),
    {
      ...(from && !weekly ? { from, keepShape: true } : {}),
      onProgress: (share) => onProgress(0.1 + 0.9 * share),
    },
  );
  const readings = lines.reduce(
    (sum, { evidence }) =>
      sum + evidence.events.filter(({ kind }) => kind === 'reading' || kind === 'plugged').length,
    0,
  );
  const [old] = await stores.rows.all('fit', [{ column: 'as_of', is: '=', value: day }]);
  if (old)
    await stores.rows.update('fit', String(old['id']), { parameters: fit, lines: lines.length, readings });
  else
    await stores.rows.insert('fit', {
      id: newId(),
      as_of: day,
      kind: weekly ? 'weekly' : 'nightly',
      engine_version: ENGINE_VERSION,
      parameters: fit,
      lines: lines.length,
      readings,
    });
  return { lines: lines.length, readings, weekly: weekly ? 1 : 0 };
}

/** Step `date`: the belief about each line and its due date with reasons. */
export async function date(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
  onProgress: (share: number) => void,
): Promise<Record<string, number>> {
  const [fitRow] = await stores.rows.all('fit', [{ column: 'as_of', is: '=', value: day }]);
  if (!fitRow) throw new RangeError(`no fit for ${day}`);
  const fit = fitRow['parameters'] as BaseFit;
  const { lines, reasons } = await withWorkLimits(stores, await loadLines(house, stores, day), settings);
  const around = await surroundings(stores, lines);
  const previous = new Map(
    (await stores.rows.all('trend', [], 'line_id')).map((row) => [String(row['line_id']), row]),
  );
  const trends: Row[] = [];
  const reviews: Parameters<Stores['night']['openReviews']>[0] = [];
  let moved = 0;
  lines.forEach((line, i) => {
    if (i % 50 === 0) onProgress(i / lines.length);
    const forecast = forecastLine(fit, line.evidence, dayNumber(day));
    for (const doubt of forecast.doubts) {
      reviews.push({
        inspectionId: doubt.id,
        lineId: line.lineId,
        weight: doubt.weight,
        suspicion: 'does not fit the other readings of the line',
      });
    }
    const old = previous.get(line.lineId);
    const evidenceHash = hashOf(line);
    const { due, limits } = dueOf(line, forecast, around, settings, old, evidenceHash);
    const lowered = reasons.get(line.lineId);
    if (lowered) due.reasons = [...due.reasons, lowered];
    if (old && old['due_on'] !== due.dueOn) moved++;
    trends.push(trendRow(line, forecast, due, limits, String(fitRow['id']), evidenceHash, day, old));
  });
  await stores.night.upsertTrends(trends);
  await stores.night.openReviews(reviews);
  const kept = await stores.night.keepHistory(day);
  return {
    lines: lines.length,
    dated: trends.filter(({ due_on }) => due_on !== null).length,
    moved,
    doubted: reviews.length,
    history: kept,
  };
}

interface Surroundings {
  upstream: Map<string, LineKind[]>;
  terms: Map<string, { lineIds: string[]; terms: CareTerms }[]>;
  decisions: Map<string, { lineIds: string[]; decision: ClientDecision }[]>;
  seasons: ClosedSeason[];
  ironOfSite: Map<string, number>;
}

async function surroundings(stores: Stores, lines: readonly NightLine[]): Promise<Surroundings> {
  const discharges = new Map(
    lines
      .filter(({ isDischarge, pitId }) => isDischarge && pitId !== null)
      .map((line) => [line.pitId, line.lineId]),
  );
  const upstream = upstreamKinds(
    lines.map(({ lineId, kind, drainsToLineId, isDischarge, pitId }) => ({
      id: lineId,
      kind,
      belowId: drainsToLineId ?? (isDischarge ? null : (discharges.get(pitId) ?? null)),
    })),
  );
  const dayOrNull = (value: unknown) => (value === null ? null : dayNumber(String(value)));
  const terms: Surroundings['terms'] = new Map();
  for (const row of await stores.rows.all('care_terms', [])) {
    const site = String(row['site_id']);
    const value: CareTerms = {
      intervalDays: row['interval_days'] === null ? null : Number(row['interval_days']),
      visitsPerYear: row['visits_per_year'] === null ? null : Number(row['visits_per_year']),
      fromDay: dayNumber(String(row['from_day'])),
      toDay: dayOrNull(row['to_day']),
    };
    terms.set(site, [...(terms.get(site) ?? []), { lineIds: row['line_ids'] as string[], terms: value }]);
  }
  const decisions: Surroundings['decisions'] = new Map();
  for (const row of await stores.rows.all('decision', [{ column: 'ended_on', is: 'null' }])) {
    const site = String(row['site_id']);
    const decision: ClientDecision = {
      kind: row['kind'] as ClientDecision['kind'],
      decidedBy: String(row['decided_by']),
      decidedDay: dayNumber(String(row['decided_on'])),
      riskTold: String(row['risk_told']),
      untilDay: dayOrNull(row['until_day']),
    };
    decisions.set(site, [...(decisions.get(site) ?? []), { lineIds: row['line_ids'] as string[], decision }]);
  }
  // Without a depot a season holds for everyone; those of one depot bind its crews, when routes are planned.
  const cleaning = ['jet', 'hose_flush'];
  const seasons = (await stores.rows.all('closed_season', [{ column: 'depot_id', is: 'null' }]))
    .filter((row) => cleaning.every((task) => (row['tasks'] as string[]).includes(task)))
    .map((row) => ({
      fromDay: dayNumber(String(row['from_day'])),
      toDay: dayNumber(String(row['to_day'])),
      reason: String(row['reason']),
    }));
  const ironOfSite = new Map<string, number>();
  for (const line of lines)
    if (line.ironMgL !== null)
      ironOfSite.set(line.siteId, Math.max(line.ironMgL, ironOfSite.get(line.siteId) ?? 0));
  return { upstream, terms, decisions, seasons, ironOfSite };
}

const concerns = (lineIds: readonly string[], lineId: string): boolean =>
  lineIds.length === 0 || lineIds.includes(lineId);

function dueOf(
  line: NightLine,
  forecast: LineForecast,
  around: Surroundings,
  settings: OwnerSettings,
  old: Row | undefined,
  evidenceHash: string,
) {
  const limits = limitsOf(line, settings);
  const iron = line.ironMgL ?? around.ironOfSite.get(line.siteId) ?? null;
  const oldDue = old?.['due_on'] == null ? null : dayNumber(String(old['due_on']));
  const due = dueDate({
    forecast,
    limits,
    consequence: plugConsequence(line.kind, around.upstream.get(line.lineId) ?? [], line.basement),
    ochre: ochreAt(iron, line.deposits, settings),
    staysWet: line.staysWet,
    history: lineHistory(line.visits, line.cleanFromDay, limits.action, settings),
    bookedSinceDay: line.bookedSinceDay,
    careTerms:
      around.terms.get(line.siteId)?.find(({ lineIds }) => concerns(lineIds, line.lineId))?.terms ?? null,
    closedSeasons: around.seasons,
    decisions: (around.decisions.get(line.siteId) ?? [])
      .filter(({ lineIds }) => concerns(lineIds, line.lineId))
      .map(({ decision }) => decision),
    previous: old
      ? {
          dueDay: oldDue,
          news: old['evidence_hash'] !== evidenceHash || old['engine_version'] !== ENGINE_VERSION,
        }
      : null,
    settings,
  });
  return { due, limits };
}

/** Everything a trend rests on: when it is the same, nothing is new. */
function hashOf(line: NightLine): string {
  const { evidence, actionLimit, plugLimit, basement, underSlab, staysWet } = line;
  return createHash('sha256')
    .update(JSON.stringify([evidence, actionLimit, plugLimit, basement, underSlab, staysWet]))
    .digest('base64url')
    .slice(0, 22);
}

function trendRow(
  line: NightLine,
  forecast: LineForecast,
  due: DueDate,
  limits: { action: number; plug: number },
  fitId: string,
  evidenceHash: string,
  day: IsoDate,
  old: Row | undefined,
): Row {
  const [action, plug] = [forecast.passage(limits.action), forecast.passage(limits.plug)];
  const on = (passage: FirstPassage, p: number): IsoDate | null => {
    const days = passage.quantile(p);
    return days === null ? null : addDays(day, Math.floor(days));
  };
  const { occlusionNow: now, ratePerDay: rate } = forecast;
  return {
    line_id: line.lineId,
    epoch_id: line.epochId,
    as_of: day,
    fit_id: fitId,
    engine_version: ENGINE_VERSION,
    evidence_hash: evidenceHash,
    occlusion: now.mean,
    occlusion_sd: now.sd,
    occlusion_q10: now.q10,
    occlusion_q90: now.q90,
    rate_per_month: rate.median * MONTH_DAYS,
    rate_q10: rate.q10 * MONTH_DAYS,
    rate_q90: rate.q90 * MONTH_DAYS,
    action_limit: limits.action,
    plug_limit: limits.plug,
    action_q10_on: on(action, 0.1),
    action_q50_on: on(action, 0.5),
    action_q90_on: on(action, 0.9),
    plug_q10_on: on(plug, 0.1),
    plug_q50_on: on(plug, 0.5),
    plug_q90_on: on(plug, 0.9),
    action_chance_30d: action.chanceBy(30),
    action_chance_due: due.chances.actionByDue ?? 0,
    plug_chance_due: due.chances.plugByDue ?? 0,
    plug_chance_year: plug.chanceBy(365),
    readings_used: forecast.readingsUsed,
    last_evidence_at: line.lastEvidenceAt,
    components: {
      ahead: STORED_AHEAD,
      action: STORED_AHEAD.map((d) => action.chanceBy(d)),
      plug: STORED_AHEAD.map((d) => plug.chanceBy(d)),
      lookOn: due.lookOn,
      notBefore: due.notBefore,
    },
    due_on: due.dueOn,
    due_rule: due.rule,
    due_reasons: due.reasons,
    due_set_on: old && old['due_on'] === due.dueOn ? old['due_set_on'] : day,
    interval_days: due.intervalDays === null ? null : Math.round(due.intervalDays),
  };
}
