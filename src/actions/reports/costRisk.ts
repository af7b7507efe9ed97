import { setImmediate as turn } from 'node:timers/promises';
import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { type CurvePoint, type RuledLine, riskCurve } from '../../domain/fouling/costAgainstRisk.js';
import type { DueRule } from '../../domain/fouling/dueDateReason.js';
import { ENGINE_VERSION } from '../../domain/fouling/evidence.js';
import { forecastLine } from '../../domain/fouling/forecastLine.js';
import { limitsOf, lineCosts, ochreAt, plugConsequence, softDaysOf } from '../../domain/fouling/policy.js';
import type { Basement } from '../../domain/words.js';
import type { House } from '../house.js';
import { type LineFacts, lineFacts, packedLine } from '../night/lineEvidence.js';
import { withPriors } from '../night/lineState.js';
import { withWorkLimits } from '../night/workLimits.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import type { LinesAsked } from './lineFilter.js';

/** What serving the lines asked for would take under each rule. */
export interface CostRisk {
  /** Day of the fit it rests on; null before the first night. */
  asOf: IsoDate | null;
  /** Lines that were asked for, and how many of them were reckoned with. */
  lines: number;
  linesCounted: number;
  /** Costs in minor units of money. */
  points: CurvePoint[];
  /** Of all lines asked for: what set their dates, the most first. */
  governing: { rule: DueRule; lines: number }[];
  /** Of those: lines whose date moves with the yearly risk or the costs. */
  linesByRisk: number;
  /** The yearly risks of the settings. */
  risksNow: Record<Basement, number>;
}

/** Rules that read the forecast: a line they govern is visited otherwise when the risk or the costs are. */
const BY_THE_RISK: ReadonlySet<DueRule> = new Set(['risk', 'cost_least', 'over_limit']);
/** Rules that hold on, and so cap what risk and cost would allow; a recheck or a postponement passes. */
const LASTING: ReadonlySet<DueRule> = new Set([
  'limit_passed',
  'hardening',
  'care_terms',
  'first_interval',
  'growth',
  'max_interval',
]);

/** Yearly chances of a plug that the curve shows. */
const RISKS = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4];

/** A sample of so many gives the mean cost to about 3 %; more would only make the caller wait. */
const LINES_AT_MOST = 1_000;

/** Lines reckoned with before others get their turn: some 20 ms. */
const LINES_A_TURN = 20;

/** The owner's curve of cost against risk, from the newest stored fit. */
export async function costRisk(house: House, asked: LinesAsked): Promise<CostRisk> {
  const { stores, zone } = house;
  const settings = await ownerSettings(stores);
  const fit = await stores.night.lastFit(ENGINE_VERSION, asked.today);
  const curve = riskCurve(RISKS, settings);
  const { lines, rows } = await stores.reports.sampleLines(asked, LINES_AT_MOST);
  const governing = governingRules(await stores.reports.trends(asked));
  const about = {
    lines,
    governing,
    linesByRisk: governing.reduce((sum, each) => sum + (BY_THE_RISK.has(each.rule) ? each.lines : 0), 0),
    risksNow: settings.yearlyPlugRisk,
  };
  if (fit === null || rows.length === 0)
    return { ...about, asOf: fit?.asOf ?? null, linesCounted: 0, points: [] };

  const { lines: facts } = await withWorkLimits(stores, rows.map(lineFacts), settings);
  const ids = facts.map(({ lineId }) => lineId);
  const states = await stores.night.lineStates(ids);
  const events = await stores.night.eventsOf(ids, zone.instantOf(fit.asOf, 0).toISOString(), zone);
  const known = withPriors(
    fit.parameters,
    ids.flatMap((lineId) => {
      const state = states.get(lineId);
      return state ? [{ lineId, state }] : [];
    }),
  );
  const rowOf = new Map(rows.map((row) => [String(row['id']), row]));
  const ruled = (each: LineFacts, i: number): RuledLine => {
    const line = packedLine(each, events, i, fit.asOf);
    const { components } = forecastLine(known, line.evidence, dayNumber(fit.asOf));
    const softDays = softDaysOf(ochreAt(line.ironMgL, line.deposits, settings), line.staysWet, settings);
    const { basement } = plugConsequence(line.kind, [], line.basement);
    return {
      components,
      limits: limitsOf(line, settings),
      costs: lineCosts(settings, softDays),
      ownRisk: settings.yearlyPlugRisk[basement],
      capDays: capOf(rowOf.get(each.lineId), softDays),
    };
  };
  let done = 0;
  for (const [system, members] of bySystem(facts, rowOf)) {
    if (done % LINES_A_TURN < members.length) await turn();
    done += members.length;
    const lines = members.map(({ each, i }) => ruled(each, i));
    curve.addSystem(lines, Number(rowOf.get(members[0]?.each.lineId ?? system)?.['system_lines'] ?? 1));
  }
  const { visitMinor } = settings.costs;
  const points = curve
    .points()
    .map((point) => ({ ...point, costPerLineYear: Math.round(point.costPerLineYear * visitMinor) }));
  return { ...about, asOf: fit.asOf, linesCounted: rows.length, points };
}

function governingRules(trends: readonly Row[]): CostRisk['governing'] {
  const counts = new Map<DueRule, number>();
  for (const { due_rule: rule } of trends)
    if (rule !== null) counts.set(rule as DueRule, (counts.get(rule as DueRule) ?? 0) + 1);
  return [...counts]
    .map(([rule, lines]) => ({ rule, lines }))
    .sort((a, b) => b.lines - a.lines || (a.rule < b.rule ? -1 : 1));
}

/** The night's own interval where a lasting rule set it; where ochre hardens at most that. */
function capOf(row: Row | undefined, softDays: number | null): number | null {
  const lasts = row !== undefined && LASTING.has(row['due_rule'] as DueRule) && row['interval_days'] !== null;
  const cap = Math.min(lasts ? Number(row['interval_days']) : Infinity, softDays ?? Infinity);
  return Number.isFinite(cap) ? cap : null;
}

function bySystem(facts: readonly LineFacts[], rowOf: ReadonlyMap<string, Row>) {
  const systems = new Map<string, { each: LineFacts; i: number }[]>();
  facts.forEach((each, i) => {
    const system = String(rowOf.get(each.lineId)?.['system_id'] ?? each.lineId);
    systems.set(system, [...(systems.get(system) ?? []), { each, i }]);
  });
  return systems;
}
