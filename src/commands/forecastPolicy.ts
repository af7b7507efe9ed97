import type { ClientBase, LineRow } from '../actions/clientBase.js';
import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import { lineHistory } from '../domain/fouling/dueDateHistory.js';
import type { DueDate } from '../domain/fouling/dueDateInput.js';
import { isFirstSurvey } from '../domain/fouling/dueDateLevelling.js';
import { dueDateOfFinds } from '../domain/fouling/dueDateOfFinds.js';
import { percent } from '../domain/fouling/dueDateReason.js';
import type { LineEvidence, LineForecast } from '../domain/fouling/evidence.js';
import { lineVisits } from '../domain/fouling/lineVisits.js';
import { limitsOf, ochreAt, plugConsequence, upstreamKinds } from '../domain/fouling/policy.js';
import type { Deposit } from '../domain/words.js';
import { drainageOf } from '../domain/work/assumedDrainage.js';
import { DEFAULT_SETTINGS } from '../domain/work/settings.js';

export interface BookPolicy {
  /** Of the line at that place of the spreadsheet. */
  due(index: number, forecast: LineForecast): { dueOn: IsoDate | null; reasons: string[] };
  /** What the spreadsheet is silent on and what was assumed instead, for the lines asked so far. */
  notes(): string[];
}

/** The rules for due dates on a spreadsheet: what it does not hold is assumed, and said. */
export function bookPolicy(
  book: Pick<ClientBase, 'lines' | 'readings'>,
  evidence: readonly LineEvidence[],
  asOf: IsoDate,
): BookPolicy {
  const settings = DEFAULT_SETTINGS;
  const asOfDay = dayNumber(asOf);
  const siteLines = grouped(book.lines, ({ siteId }) => siteId);
  const upstream = upstreamKinds(drainage(siteLines));
  const deposits = grouped(book.readings, ({ lineId }) => lineId);
  const ruled = new Map<DueDate['rule'], number>();
  let firstSurveys = 0;

  return {
    due(index, forecast) {
      const line = book.lines[index];
      const own = evidence[index];
      if (line === undefined || own === undefined) throw new RangeError(`no line at place ${index}`);
      const limits = limitsOf(
        { kind: line.kind, underSlab: false, actionLimit: line.threshold, plugLimit: null },
        settings,
      );
      const cleanFromDay = own.start.kind === 'clean' ? own.start.day : null;
      const seen: Deposit[] = (deposits.get(line.lineId) ?? []).map(({ deposit }) => deposit);
      const due = dueDateOfFinds(forecast, (believed) => ({
        forecast: believed,
        limits,
        consequence: plugConsequence(line.kind, upstream.get(line.lineId) ?? [], 'unknown'),
        ochre: ochreAt(ironOf(line, siteLines.get(line.siteId) ?? []), seen, settings),
        staysWet: null,
        history: lineHistory(
          lineVisits(believed.evidence.events, believed.doubts),
          cleanFromDay,
          limits.action,
          settings,
        ),
        noFlowDay: null,
        bookedSinceDay: Math.floor(own.start.day),
        careTerms: null,
        closedSeasons: [],
        decisions: [],
        previous: null,
        settings,
      }));
      ruled.set(due.rule, (ruled.get(due.rule) ?? 0) + 1);
      if (isFirstSurvey(due, forecast.readingsUsed, asOfDay)) firstSurveys++;
      const dueOn = due.dueOn !== null && due.dueOn < asOf ? asOf : due.dueOn;
      return { dueOn, reasons: due.reasons.map(({ text }) => text.replace(/\.$/, '')) };
    },
    notes() {
      const { yearlyPlugRisk, limits, hardening, surveys } = settings;
      const count = [...ruled].sort(([, a], [, b]) => b - a).map(([rule, lines]) => `${rule} ${lines}`);
      return [
        `Set by: ${count.join(', ')}.`,
        `Assumed, since the spreadsheet does not say: basements not known (${percent(yearlyPlugRisk.unknown)} a year of passing ${percent(limits.plug)} blocked; ` +
          `${percent(yearlyPlugRisk.none)} where only a yard ponds); footing and floor drains run to the pit of their site's discharge; no line under a slab; ` +
          `ochre dries out and hardens in ${hardening.softMonthsDry} months; no care terms, closed seasons or client's decisions.`,
        ...(firstSurveys > 0
          ? [
              `${firstSurveys} lines without a reading are due at once: at ${surveys.perWeek} first surveys a week, as the night would level them, ${Math.ceil(firstSurveys / surveys.perWeek)} weeks.`,
            ]
          : []),
      ];
    },
  };
}

/** Iron is the site's water: of its tested lines the highest counts for one not tested. */
function ironOf(line: LineRow, siteLines: readonly LineRow[]): number | null {
  if (line.ferrousIronMgL !== null) return line.ferrousIronMgL;
  const tested = siteLines.flatMap(({ ferrousIronMgL }) => ferrousIronMgL ?? []);
  return tested.length === 0 ? null : Math.max(...tested);
}

/** The line that each drains into, straight or through the pit; what the book does not say goes by kind. */
function drainage(siteLines: ReadonlyMap<string, readonly LineRow[]>) {
  return [...siteLines.values()].flatMap((lines) => {
    const { lines: placed } = drainageOf(
      lines.map(({ lineId, kind, drainsTo }) => ({ ref: lineId, kind, drainsTo })),
    );
    const dischargeOf = new Map<number, string>();
    for (const [id, { system, isDischarge }] of placed) if (isDischarge) dischargeOf.set(system, id);
    return lines.map(({ lineId, kind }) => {
      const place = placed.get(lineId);
      const throughPit = place?.drainsToPit == null ? undefined : dischargeOf.get(place.drainsToPit);
      return { id: lineId, kind, belowId: place?.drainsToLine ?? throughPit ?? null };
    });
  });
}

function grouped<T>(items: readonly T[], keyOf: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const held = groups.get(keyOf(item));
    if (held) held.push(item);
    else groups.set(keyOf(item), [item]);
  }
  return groups;
}
