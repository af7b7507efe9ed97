import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { lineHistory } from '../../domain/fouling/dueDateHistory.js';
import type { ClosedSeason, DueDate } from '../../domain/fouling/dueDateInput.js';
import { dueDateOfFinds } from '../../domain/fouling/dueDateOfFinds.js';
import { startReason } from '../../domain/fouling/dueDateReason.js';
import { ENGINE_VERSION, type LineForecast } from '../../domain/fouling/evidence.js';
import type { BaseFit } from '../../domain/fouling/fitBase.js';
import { forecastLine } from '../../domain/fouling/forecastLine.js';
import { reusingRows } from '../../domain/fouling/freshRow.js';
import { changeReason } from '../../domain/fouling/lineChange.js';
import { type BlockRead, lineOfBlock, readBlock } from '../../domain/fouling/lineRead.js';
import { lineVisits } from '../../domain/fouling/lineVisits.js';
import type { FirstPassage } from '../../domain/fouling/passage.js';
import { limitsOf, ochreAt, plugConsequence } from '../../domain/fouling/policy.js';
import { STORED_AHEAD } from '../../domain/fouling/selfScore.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { Row } from '../ports.js';
import { EventObjects, type LineFacts, layPacked, type NightLine, packedLine } from './lineEvidence.js';
import type { LinePolicy, SeasonsOfKinds } from './linePolicy.js';
import type { LineState } from './lineState.js';
import { withPriors } from './lineState.js';
import type { PackedEvents } from './nightEvents.js';

const MONTH_DAYS = 365.25 / 12;

/** As much of a stored trend as the next one needs. */
export interface OldTrend {
  asOf: IsoDate;
  fitId: string;
  engineVersion: string;
  evidenceHash: string;
  policyHash: string;
  dueOn: IsoDate | null;
  dueSetOn: IsoDate | null;
}

export interface LineToDate {
  facts: LineFacts;
  state: LineState;
  policy: LinePolicy;
  policyHash: string;
  old: OldTrend | null;
}

export interface DatesAsk {
  day: IsoDate;
  fitId: string;
  /** Priors of lines left out: they come with the lines. */
  fit: BaseFit;
  settings: OwnerSettings;
  seasons: SeasonsOfKinds;
  lines: readonly LineToDate[];
  events: PackedEvents;
  /** What the lines' events say under the laws of the fit; absent when nobody read them tonight. */
  read?: BlockRead | null;
}

/** A reading that does not fit the others of its line. */
export interface DoubtedReading {
  inspectionId: string;
  lineId: string;
  weight: number;
  suspicion: string;
}

export interface DatedLines {
  /** Names of a trend's columns, and the values of each line in that order. */
  columns: string[];
  trends: unknown[][];
  doubts: DoubtedReading[];
  /** Lines with news: their readings were doubted anew. */
  lookedInto: string[];
  dated: number;
  moved: number;
}

let held: { fitId: string; fit: BaseFit } | null = null;

/** Blocks of one night come with copies of one fit; what is worked out once per fit is kept by the first of them. */
function oneCopy({ fitId, fit }: DatesAsk): BaseFit {
  if (held?.fitId !== fitId) held = { fitId, fit };
  return held.fit;
}

/** The belief about each line and its due date with reasons. */
export function dateLines(ask: DatesAsk): DatedLines {
  const { day, settings, seasons, lines, events } = ask;
  const answer: DatedLines = { columns: [], trends: [], doubts: [], lookedInto: [], dated: 0, moved: 0 };
  const ownFit = withPriors(
    oneCopy(ask),
    lines.map(({ facts, state }) => ({ lineId: facts.lineId, state })),
  );
  const asOfDay = dayNumber(day);
  const read =
    ask.read ??
    readBlock(layPacked({ day, facts: lines.map(({ facts }) => facts), events }), ownFit.shapes, asOfDay);
  const objects = new EventObjects();
  const dateOne = (asked: LineToDate, i: number): void => {
    const line = packedLine(asked.facts, events, i, day, objects);
    const reads = ownFit.shapes.map((_, law) => lineOfBlock(read, law, i));
    const forecast = forecastLine(ownFit, line.evidence, asOfDay, reads);
    const evidenceHash = evidenceMark(asked);
    const news = asked.old?.evidenceHash !== evidenceHash || asked.old.engineVersion !== ENGINE_VERSION;
    const { doubts } = forecast;
    if (news) {
      answer.lookedInto.push(line.lineId);
      for (const { id, weight, text } of doubts)
        answer.doubts.push({
          inspectionId: id,
          lineId: line.lineId,
          weight,
          suspicion: text,
        });
    }
    const { due, limits } = dueOf(line, asked, forecast, seasons[line.kind], settings, news);
    const row = trendRow(line, asked, forecast, due, limits, evidenceHash, day);
    if (answer.trends.length === 0) answer.columns = Object.keys(row);
    answer.trends.push(Object.values(row));
    if (due.dueOn !== null) answer.dated++;
    if (asked.old && asked.old.dueOn !== due.dueOn) answer.moved++;
  };
  lines.forEach((asked, i) => {
    reusingRows(() => dateOne(asked, i));
  });
  return answer;
}

function dueOf(
  line: NightLine,
  { policy, policyHash, old }: LineToDate,
  forecast: LineForecast,
  closedSeasons: ClosedSeason[],
  settings: OwnerSettings,
  evidenceIsNew: boolean,
) {
  const limits = limitsOf(line, settings);
  const news = evidenceIsNew || old?.policyHash !== policyHash;
  const due = dueDateOfFinds(forecast, (believed) => ({
    forecast: believed,
    limits,
    consequence: plugConsequence(line.kind, policy.upstream, line.basement),
    ochre: ochreAt(policy.ironMgL, line.deposits, settings),
    staysWet: line.staysWet,
    history: lineHistory(
      lineVisits(believed.evidence.events, believed.doubts),
      line.cleanFromDay,
      limits.action,
      settings,
    ),
    noFlowDay: policy.noFlowDay,
    bookedSinceDay: line.bookedSinceDay,
    careTerms: policy.careTerms,
    closedSeasons,
    decisions: policy.decisions,
    previous: old ? { dueDay: old.dueOn === null ? null : dayNumber(old.dueOn), news } : null,
    settings,
  }));
  if (policy.limitReason) due.reasons = [...due.reasons, policy.limitReason];
  const { change } = forecast;
  if (change) due.reasons = [...due.reasons, changeReason(change)];
  const start = startReason(epochOf(line), line.evidence.events);
  if (start) due.reasons = [...due.reasons, start];
  return { due, limits };
}

const epochOf = ({ epochStartedOn, epochBegins, epochBecause }: LineFacts) =>
  epochStartedOn === null || epochBegins === null || epochBecause === null
    ? null
    : { startedOn: epochStartedOn, begins: epochBegins, because: epochBecause };

/** Mark of everything a trend rests on: when it is the same, nothing is new. */
const evidenceMark = ({ facts, state, policy }: LineToDate): string =>
  policy.limitReason ? `${state.digest} ${facts.actionLimit}` : state.digest;

/** Why a trend is kept for good; null when it says what the one before said. */
function becauseOf(old: OldTrend | null, due: DueDate, evidenceHash: string, day: IsoDate): string | null {
  if (!old || old.evidenceHash !== evidenceHash) return 'evidence';
  if (old.dueOn !== due.dueOn) return 'moved';
  return old.asOf.slice(0, 7) === day.slice(0, 7) ? null : 'month';
}

/** A line found plugged is shown as that until it is opened, whatever was believed of it before. */
function foundPlugged(since: IsoDate) {
  const ones = STORED_AHEAD.map(() => 1);
  return {
    occlusion: 1,
    occlusion_sd: 0,
    occlusion_q10: 1,
    occlusion_q90: 1,
    action_q10_on: since,
    action_q50_on: since,
    action_q90_on: since,
    plug_q10_on: since,
    plug_q50_on: since,
    plug_q90_on: since,
    ahead: { action: ones, plug: ones },
  };
}

function trendRow(
  line: NightLine,
  { state, policyHash, old }: LineToDate,
  forecast: LineForecast,
  due: DueDate,
  limits: { action: number; plug: number },
  evidenceHash: string,
  day: IsoDate,
): Row {
  const [action, plug] = [forecast.passage(limits.action), forecast.passage(limits.plug)];
  const on = (passage: FirstPassage, p: number): IsoDate | null => {
    const days = passage.quantile(p);
    return days === null ? null : isoDate(forecast.asOfDay + days);
  };
  const { occlusionNow: now, ratePerDay: rate } = forecast;
  const actionChances = STORED_AHEAD.map((d) => action.chanceBy(d));
  const believed = {
    occlusion: now.mean,
    occlusion_sd: now.sd,
    occlusion_q10: now.q10,
    occlusion_q90: now.q90,
    action_q10_on: on(action, 0.1),
    action_q50_on: on(action, 0.5),
    action_q90_on: on(action, 0.9),
    plug_q10_on: on(plug, 0.1),
    plug_q50_on: on(plug, 0.5),
    plug_q90_on: on(plug, 0.9),
    ahead: { action: actionChances, plug: STORED_AHEAD.map((d) => plug.chanceBy(d)) },
  };
  const shown = due.pluggedSinceDay === null ? believed : foundPlugged(isoDate(due.pluggedSinceDay));
  return {
    line_id: line.lineId,
    epoch_id: line.epochId,
    as_of: day,
    fit_id: state.fitId,
    engine_version: ENGINE_VERSION,
    evidence_hash: evidenceHash,
    policy_hash: policyHash,
    occlusion: shown.occlusion,
    occlusion_sd: shown.occlusion_sd,
    occlusion_q10: shown.occlusion_q10,
    occlusion_q90: shown.occlusion_q90,
    action_q10_on: shown.action_q10_on,
    action_q50_on: shown.action_q50_on,
    action_q90_on: shown.action_q90_on,
    plug_q10_on: shown.plug_q10_on,
    plug_q50_on: shown.plug_q50_on,
    plug_q90_on: shown.plug_q90_on,
    rate_per_month: rate.median * MONTH_DAYS,
    rate_q10: rate.q10 * MONTH_DAYS,
    rate_q90: rate.q90 * MONTH_DAYS,
    action_limit: limits.action,
    plug_limit: limits.plug,
    action_chance_30d: due.chances.actionWithin30Days,
    action_chance_due: due.chances.actionByDue ?? 0,
    plug_chance_due: due.chances.plugByDue ?? 0,
    plug_chance_year: due.chances.plugWithinYear,
    readings_used: forecast.readingsUsed,
    last_evidence_at: line.lastEvidenceAt,
    components: JSON.stringify({
      ahead: STORED_AHEAD,
      action: shown.ahead.action,
      plug: shown.ahead.plug,
      lookOn: due.lookOn,
      notBefore: due.notBefore,
      waitsUntil: due.waitsUntil,
      openFrom: due.openFrom,
    }),
    due_on: due.dueOn,
    due_rule: due.rule,
    due_reasons: JSON.stringify(due.reasons),
    due_set_on: old && old.dueOn === due.dueOn ? old.dueSetOn : day,
    interval_days: due.intervalDays === null ? null : Math.round(due.intervalDays),
    believed_occlusion: believed.occlusion,
    believed_occlusion_sd: believed.occlusion_sd,
    believed_action_q10_on: believed.action_q10_on,
    believed_action_q50_on: believed.action_q50_on,
    believed_action_q90_on: believed.action_q90_on,
    believed_plug_q50_on: believed.plug_q50_on,
    action_chances: actionChances,
    because: becauseOf(old, due, evidenceHash, day),
  };
}
