import { createHash } from 'node:crypto';
import type { BusinessZone } from '../../domain/calendar/businessZone.js';
import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { bindsCleaning, careTermsFor, seasonsFor } from '../../domain/fouling/dueDateConcern.js';
import { decisionInForce } from '../../domain/fouling/dueDateDecision.js';
import type { CareTerms, ClientDecision } from '../../domain/fouling/dueDateInput.js';
import type { Reason } from '../../domain/fouling/dueDateReason.js';
import { upstreamKinds } from '../../domain/fouling/policy.js';
import { LINE_KINDS, type LineKind, type TaskKind } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { Stores } from '../house.js';
import type { LineFacts } from './lineEvidence.js';
import type { LinePolicy, SeasonsOfKinds } from './linePolicy.js';

export interface Surroundings {
  seasons: SeasonsOfKinds;
  of(line: LineFacts): LinePolicy;
  /** The same text as long as nothing that decides the line's due date changed, its evidence apart. */
  hashOf(line: LineFacts): string;
}

/**
 * What decides due dates on a day, beside the evidence.
 * @param limitReasons What hydraulics said of lines' action limits, by line id.
 * @param night        The day, and the instant before which what is on record counts.
 */
export async function surroundings(
  stores: Stores,
  lines: readonly LineFacts[],
  settings: OwnerSettings,
  limitReasons: ReadonlyMap<string, Reason>,
  night: { day: IsoDate; before: string; zone: BusinessZone },
): Promise<Surroundings> {
  const today = dayNumber(night.day);
  const upstream = upstreamOf(lines);
  const terms = await careTermsBySite(stores);
  const decisions = await decisionsBySite(stores, today);
  const seasons = await closedSeasons(stores);
  const noFlow = await noFlowDays(stores, night);
  const ironOfSite = new Map<string, number>();
  for (const { siteId, ironMgL } of lines)
    if (ironMgL !== null) ironOfSite.set(siteId, Math.max(ironMgL, ironOfSite.get(siteId) ?? 0));

  const of = (line: LineFacts): LinePolicy => ({
    upstream: upstream.get(line.lineId) ?? [],
    careTerms: careTermsFor(
      (terms.get(line.siteId) ?? [])
        .filter(({ lineIds }) => concerns(lineIds, line.lineId))
        .map(({ terms }) => terms),
      today,
    ),
    decisions: (decisions.get(line.siteId) ?? [])
      .filter(({ lineIds }) => concerns(lineIds, line.lineId))
      .map(({ decision }) => decision),
    ironMgL: line.ironMgL ?? ironOfSite.get(line.siteId) ?? null,
    noFlowDay: noFlow.get(line.lineId) ?? null,
    limitReason: limitReasons.get(line.lineId) ?? null,
  });
  const forAll = JSON.stringify([settings, seasons]);
  const hashes = new Map<string, string>();
  return {
    seasons,
    of,
    hashOf(line) {
      const own = JSON.stringify([line.actionLimit, of(line)]);
      const held = hashes.get(own);
      if (held) return held;
      const made = createHash('sha256').update(forAll).update(own).digest('base64url').slice(0, 22);
      hashes.set(own, made);
      return made;
    },
  };
}

const concerns = (lineIds: readonly string[], lineId: string): boolean =>
  lineIds.length === 0 || lineIds.includes(lineId);

function upstreamOf(lines: readonly LineFacts[]): Map<string, LineKind[]> {
  const discharges = new Map(
    lines
      .filter(({ isDischarge, pitId }) => isDischarge && pitId !== null)
      .map((line) => [line.pitId, line.lineId]),
  );
  return upstreamKinds(
    lines.map(({ lineId, kind, drainsToLineId, isDischarge, pitId }) => ({
      id: lineId,
      kind,
      belowId: drainsToLineId ?? (isDischarge ? null : (discharges.get(pitId) ?? null)),
    })),
  );
}

async function noFlowDays(
  stores: Stores,
  { before, zone }: { before: string; zone: BusinessZone },
): Promise<Map<string, number>> {
  const rows = await stores.night.cleanedWithoutFlow(before);
  return new Map(
    rows.map((row) => [String(row['line_id']), dayNumber(zone.dayOf(new Date(String(row['at']))))]),
  );
}

const dayOrNull = (value: unknown) => (value === null ? null : dayNumber(String(value)));

async function careTermsBySite(stores: Stores) {
  const bySite = new Map<string, { lineIds: string[]; terms: CareTerms }[]>();
  for (const row of await stores.rows.all('care_terms', [])) {
    const site = String(row['site_id']);
    const terms: CareTerms = {
      intervalDays: row['interval_days'] === null ? null : Number(row['interval_days']),
      visitsPerYear: row['visits_per_year'] === null ? null : Number(row['visits_per_year']),
      fromDay: dayNumber(String(row['from_day'])),
      toDay: dayOrNull(row['to_day']),
    };
    bySite.set(site, [...(bySite.get(site) ?? []), { lineIds: row['line_ids'] as string[], terms }]);
  }
  return bySite;
}

/** Those in force that keep lines from being cleaned. */
async function decisionsBySite(stores: Stores, today: number) {
  const bySite = new Map<string, { lineIds: string[]; decision: ClientDecision }[]>();
  for (const row of await stores.rows.all('decision', [{ column: 'ended_on', is: 'null' }])) {
    if (!bindsCleaning(row['task'] as TaskKind | null)) continue;
    const site = String(row['site_id']);
    const decision: ClientDecision = {
      kind: row['kind'] as ClientDecision['kind'],
      decidedBy: String(row['decided_by']),
      decidedDay: dayNumber(String(row['decided_on'])),
      riskTold: String(row['risk_told']),
      untilDay: dayOrNull(row['until_day']),
    };
    if (decisionInForce([decision], today) === null) continue;
    bySite.set(site, [...(bySite.get(site) ?? []), { lineIds: row['line_ids'] as string[], decision }]);
  }
  return bySite;
}

/** Those of one depot among several bind its crews alone, when routes are planned. */
async function closedSeasons(stores: Stores): Promise<SeasonsOfKinds> {
  const depots = await stores.rows.all('depot', [{ column: 'archived_on', is: 'null' }]);
  const depotIds = depots.map((row) => String(row['id']));
  const seasons = (await stores.rows.all('closed_season', [{ column: 'withdrawn_at', is: 'null' }])).map(
    (row) => ({
      depotId: row['depot_id'] === null ? null : String(row['depot_id']),
      tasks: row['tasks'] as TaskKind[],
      outsideOnly: row['outside_only'] === true,
      fromDay: dayNumber(String(row['from_day'])),
      toDay: dayNumber(String(row['to_day'])),
      reason: String(row['reason']),
    }),
  );
  return Object.fromEntries(
    LINE_KINDS.map((kind) => [kind, seasonsFor(kind, seasons, depotIds)]),
  ) as SeasonsOfKinds;
}
