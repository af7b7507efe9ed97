import type { Consequence, IncidentKind } from '../../domain/words.js';
import { tellings } from '../../domain/work/incidentRules.js';
import type { House, Stores } from '../house.js';
import { mayWorkOn } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import { refuseForeignOrder } from '../ownOrder.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { tell } from '../telling/tell.js';

export interface NewIncident {
  id: string;
  kind: IncidentKind;
  siteId: string | null;
  workOrderId: string | null;
  happenedAt: string;
  what: string;
  consequence: Consequence;
}

/** One who must be told, by when, and whether it happened. */
export interface Told {
  who: string;
  by: string;
  source: string;
  toldAt: string | null;
  toldBy: string | null;
  /** What was said of it before and was put right, oldest first. */
  corrected?: { toldAt: string; toldBy: string; correctedBy: string }[];
}

const HOUR_MS = 3_600_000;

/**
 * What somebody says went wrong, at a house they work at or worked at, or at none: what comes to light after a visit is
 * said as well.
 *
 * @throws {Refused} `not-yours`, also for a house or order that is not there; `rule-broken` for an order of another house.
 */
export async function reportIncident(
  house: House,
  stores: Stores,
  actor: Actor,
  incident: NewIncident,
): Promise<Row> {
  const { siteId, workOrderId, happenedAt } = incident;
  const order = workOrderId === null ? null : await stores.rows.get('work_order', workOrderId);
  for (const each of new Set([
    siteId,
    workOrderId === null ? null : String(order?.['site_id'] ?? workOrderId),
  ]))
    if (each !== null && !(await wasAt(stores, actor, each)))
      await mayWorkOn(house, stores, actor, each, happenedAt);
  if (siteId !== null) await refuseForeignOrder(stores, workOrderId, { site_id: siteId }, '#');
  return recordIncident(house, stores, actor, incident);
}

const wasAt = async (stores: Stores, { memberId }: Actor, siteId: string): Promise<boolean> =>
  memberId !== null && (await stores.work.isSiteOf(memberId, siteId));

/** Records what went wrong, with who must be told by when. */
export async function recordIncident(
  house: House,
  stores: Stores,
  actor: Actor,
  incident: NewIncident,
): Promise<Row> {
  if (liesAhead(house, incident.happenedAt))
    throw ruleBroken('incident', '#/happenedAt', 'lies in the future', 'the moment it happened');
  const toTell: Told[] = tellings(incident.kind, incident.consequence).map(
    ({ who, withinHours, source }) => ({
      who,
      by: new Date(Date.parse(incident.happenedAt) + withinHours * HOUR_MS).toISOString(),
      source,
      toldAt: null,
      toldBy: null,
    }),
  );
  const row = await stores.rows.insert('incident', {
    id: incident.id,
    kind: incident.kind,
    site_id: incident.siteId,
    work_order_id: incident.workOrderId,
    happened_at: incident.happenedAt,
    what: incident.what,
    consequence: incident.consequence,
    tell: JSON.stringify(toTell),
    author: actor.name,
  });
  await tell(stores, {
    type: 'incident',
    subjectId: incident.id,
    once: incident.id,
    facts: { kind: incident.kind, tell: toTell },
    about: { siteId: incident.siteId, workOrderId: incident.workOrderId },
  });
  return row;
}

/**
 * Somebody was told; with the last of them the incident is closed. Said again with another moment, or with none, it
 * is put right: what was said before stays beside it.
 *
 * @throws {Refused} Nobody on the list, a moment before the incident or ahead.
 */
export async function tellOfIncident(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  who: string,
  toldAt: string | null,
): Promise<Row> {
  const incident = await stores.rows.lock('incident', id);
  if (!incident) throw new Refused({ code: 'not-found', resource: 'incident', id });
  if (incident['withdrawn_at'] !== null)
    throw new Refused({
      code: 'wrong-state',
      resource: 'incident',
      id,
      state: 'withdrawn',
      allowed: ['open', 'closed'],
      detail: 'It was taken back: nobody has to be told.',
    });
  const tell = incident['tell'] as Told[];
  if (!tell.some((each) => each.who === who))
    throw ruleBroken('incident', '#/who', 'is nobody on the list', tell.map((each) => each.who).join('; '));
  if (toldAt !== null) refuseTold(house, String(incident['happened_at']), toldAt);
  const told = tell.map((each) => (each.who === who ? toldAs(each, toldAt, actor.name) : each));
  const closed = told.every((each) => each.toldAt !== null);
  return (
    (await stores.rows.update('incident', id, {
      tell: JSON.stringify(told),
      closed_at: closed ? (incident['closed_at'] ?? house.clock.now().toISOString()) : null,
    })) ?? incident
  );
}

/**
 * An incident that was none, or not that one: it stays on record with who took it back and why, and nobody has to be told
 * of it any more. Twice changes nothing.
 *
 * @throws {Refused} `not-found`.
 */
export async function withdrawIncident(
  house: House,
  stores: Stores,
  actor: Actor,
  { id, because }: { id: string; because: string },
): Promise<Row> {
  const incident = await stores.rows.lock('incident', id);
  if (!incident) throw new Refused({ code: 'not-found', resource: 'incident', id });
  if (incident['withdrawn_at'] !== null) return incident;
  const at = house.clock.now().toISOString();
  const withdrawn = { withdrawn_at: at, withdrawn_by: actor.name, withdrawn_because: because };
  return (
    (await stores.rows.update('incident', id, { ...withdrawn, closed_at: incident['closed_at'] ?? at })) ??
    incident
  );
}

function refuseTold(house: House, happenedAt: string, toldAt: string): void {
  if (Date.parse(toldAt) < Date.parse(happenedAt))
    throw ruleBroken('incident', '#/toldAt', `${toldAt} lies before the incident`, `${happenedAt} or later`);
  if (liesAhead(house, toldAt))
    throw ruleBroken('incident', '#/toldAt', `${toldAt} lies in the future`, 'the moment they were told');
}

function toldAs(told: Told, toldAt: string | null, by: string): Told {
  const before = told.toldAt;
  if (before === null) return toldAt === null ? told : { ...told, toldAt, toldBy: by };
  if (toldAt !== null && Date.parse(toldAt) === Date.parse(before)) return told;
  const was = { toldAt: before, toldBy: told.toldBy ?? by, correctedBy: by };
  return {
    ...told,
    toldAt,
    toldBy: toldAt === null ? null : by,
    corrected: [...(told.corrected ?? []), was],
  };
}
