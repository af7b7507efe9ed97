import { v7 as newId } from 'uuid';
import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { careTermsDay } from '../../domain/fouling/dueDateCandidates.js';
import { careTermsFor } from '../../domain/fouling/dueDateConcern.js';
import type { CareTerms } from '../../domain/fouling/dueDateInput.js';
import type { TaskKind } from '../../domain/words.js';
import { type EarlyVisit, earlyVisit, type TermsOfVisit } from '../../domain/work/earlyVisit.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { PlannedTask } from '../../domain/work/visitTasks.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { tell } from '../telling/tell.js';
import { endsAsking, openDischargePlan, sendsWater } from '../workLife/dischargePlans.js';
import { enteredTasks, pointsOf, reachByKit } from '../workLife/reach.js';

interface SiteTerms extends CareTerms, Omit<TermsOfVisit, 'termsDay'> {
  lineIds: readonly string[];
}

/** What the visits of a night wait for: the client's consent where they come early, a plan for the water. */
export interface VisitConditions {
  /** Whether a visit is an early one by the terms of its lines; null: it is not. */
  early(siteId: string, lineIds: readonly string[], visitDay: number): Promise<EarlyVisit | null>;
  /** The tasks with where to go in; where no entry reaches through, why a cleanout is proposed. */
  entered(
    lines: readonly Row[],
    tasks: readonly PlannedTask[],
  ): Promise<{ tasks: PlannedTask[]; proposals: object[] }>;
  /** An order's visit moved: the client is asked about its new day, or, where it is not early any more, about nothing. */
  askAnew(orderId: string, early: EarlyVisit | null): Promise<void>;
  /** Writes what the order of a visit waits for. */
  open(
    orderId: string,
    systemIds: readonly string[],
    tasks: readonly TaskKind[],
    early: EarlyVisit | null,
  ): Promise<void>;
}

/** @param lines All lines in service of the sites to be visited. */
export async function visitConditions(
  house: House,
  stores: Stores,
  lines: readonly Row[],
  day: IsoDate,
  settings: OwnerSettings,
): Promise<VisitConditions> {
  const terms = new Map<string, SiteTerms[]>();
  for (const row of await stores.workLife.termsInForce(day)) {
    const site = String(row['site_id']);
    terms.set(site, [...(terms.get(site) ?? []), termsOf(row)]);
  }
  const bySystem = new Map<string, Row[]>();
  for (const line of lines) {
    const system = String(line['system_id']);
    const own = bySystem.get(system);
    if (own) own.push(line);
    else bySystem.set(system, [line]);
  }
  const now = house.clock.now().toISOString();
  const reach = await reachByKit(stores);
  return {
    async early(siteId, lineIds, visitDay) {
      const ofSite = terms.get(siteId);
      if (ofSite === undefined) return null;
      const cleanSince = new Map(
        (await stores.workLife.cleanSince(lineIds)).map((row) => [
          String(row['line_id']),
          {
            cleanDay: row['day'] === null ? null : dayNumber(String(row['day'])),
            bookedDay: dayNumber(String(row['booked_on'])),
          },
        ]),
      );
      const first = firstTerms(ofSite, lineIds, cleanSince, dayNumber(day));
      return first && earlyVisit(visitDay, first, settings);
    },

    async entered(own, tasks) {
      const points = await pointsOf(
        stores,
        own.map((line) => String(line['id'])),
      );
      return enteredTasks(own, tasks, points, reach);
    },

    async askAnew(orderId, early) {
      const asked = await stores.rows.all('precondition', [
        { column: 'work_order_id', is: '=', value: orderId },
        { column: 'kind', is: '=', value: 'consent' },
        { column: 'state', is: '=', value: 'open' },
      ]);
      for (const { id, facts } of asked) {
        const change =
          early?.ask != null
            ? { facts: { ...(facts as object), ...early.reason.facts, ask: early.ask } }
            : {
                state: 'waived',
                facts: { ...(facts as object), because: 'its visit was put off: it is not early any more' },
              };
        await stores.rows.update('precondition', String(id), change);
      }
    },

    async open(orderId, systemIds, tasks, early) {
      if (early?.ask != null)
        await stores.rows.insert('precondition', {
          id: newId(),
          work_order_id: orderId,
          kind: 'consent',
          facts: { ask: early.ask, askedOn: day, ...early.reason.facts },
        });
      const asking = sendsWater(tasks) ? endsAsking(systemIds.flatMap((id) => bySystem.get(id) ?? [])) : null;
      if (asking !== null) await openDischargePlan(stores, orderId, asking, now, settings.discharge);
    },
  };
}

/** The terms that would bring one of the lines first. */
function firstTerms(
  ofSite: readonly SiteTerms[],
  lineIds: readonly string[],
  cleanSince: ReadonlyMap<string, { cleanDay: number | null; bookedDay: number }>,
  today: number,
): (SiteTerms & TermsOfVisit) | null {
  const dated = lineIds.flatMap((lineId) => {
    const own = ofSite.filter((terms) => terms.lineIds.length === 0 || terms.lineIds.includes(lineId));
    const terms = careTermsFor(own, today);
    const { cleanDay = null, bookedDay = today } = cleanSince.get(lineId) ?? {};
    const termsDay = terms && careTermsDay(terms, cleanDay, Math.min(bookedDay, today));
    return terms === null || termsDay === null ? [] : [{ ...terms, termsDay }];
  });
  return dated.sort((a, b) => a.termsDay - b.termsDay)[0] ?? null;
}

const numberOrNull = (value: unknown) => (value === null ? null : Number(value));

const termsOf = (row: Row): SiteTerms => ({
  lineIds: row['line_ids'] as string[],
  intervalDays: numberOrNull(row['interval_days']),
  visitsPerYear: numberOrNull(row['visits_per_year']),
  fromDay: dayNumber(String(row['from_day'])),
  toDay: row['to_day'] === null ? null : dayNumber(String(row['to_day'])),
  priceMinor: numberOrNull(row['price_minor']),
  earlyVisitsPerYear: Number(row['early_visits_per_year']),
  earlyPriceCapMinor: numberOrNull(row['early_price_cap_minor']),
  earlyTaken: Number(row['early_taken']),
  alwaysWelcome: row['early_visits_ok'] === true,
});

/**
 * Consent that nobody answered for so many days is raised to a person, once; where the terms' own day has come near
 * the visit is no longer early, and needs none.
 *
 * @returns Number raised.
 */
export async function heedConsents(
  house: House,
  stores: Stores,
  day: IsoDate,
  { consent }: Pick<OwnerSettings, 'consent'>,
): Promise<number> {
  let raised = 0;
  for (const row of await stores.workLife.openConsents()) {
    const facts = row['facts'] as Record<string, unknown>;
    const id = String(row['id']);
    const termsDay = typeof facts['termsDay'] === 'string' ? facts['termsDay'] : null;
    if (termsDay !== null && dayNumber(termsDay) - dayNumber(day) <= consent.earlyFromDays) {
      const because = `the care terms bring the visit on ${termsDay}: it is not early any more`;
      await stores.rows.update('precondition', id, { state: 'waived', facts: { ...facts, because } });
      continue;
    }
    const askedOn = String(facts['askedOn'] ?? house.zone.dayOf(new Date(String(row['created_at']))));
    if (facts['escalatedOn'] !== undefined) continue;
    if (dayNumber(day) - dayNumber(askedOn) < consent.escalateAfterDays) continue;
    await stores.rows.update('precondition', id, { facts: { ...facts, escalatedOn: day } });
    const workOrderId = String(row['work_order_id']);
    await tell(stores, {
      type: 'consent_unanswered',
      subjectId: workOrderId,
      once: id,
      facts: { orderNumber: Number(row['number']), askedOn, ask: facts['ask'] ?? null },
      about: { workOrderId },
    });
    raised++;
  }
  return raised;
}
