import type { Pool, PoolClient } from 'pg';
import type { ClientBase, CrewRow, LineRow, ReadingRow, SiteRow } from '../actions/clientBase.js';
import { inSnapshot } from './transaction.js';

/** The id in the firm's own books where that is one of a kind here, else ours. */
const REF = (table: string) => `
  (SELECT id, CASE WHEN external_ref IS NOT NULL AND count(*) OVER (PARTITION BY external_ref) = 1
                   THEN external_ref ELSE id::text END AS ref FROM ${table})`;

/** A site of which nothing is known but its last clean stays such a one: its assumed lines are not written. */
const KNOWN_LINE = `l.archived_on IS NULL AND (NOT 'exists' = ANY (l.assumed)
  OR EXISTS (SELECT FROM inspection i WHERE i.line_id = l.id AND i.withdrawn_at IS NULL))`;

const SITES = `
  SELECT r.ref AS "siteId", coalesce(c.name, 'unknown') AS client, s.address, s.town, s.latitude, s.longitude, s.access, s.area, s.basement,
         c.phone AS "clientPhone", c.email AS "clientEmail", s.builder, s.built_on AS "builtOn", s.access_notes AS "accessNotes",
         s.tap, s.postal_code AS "postalCode",
         (SELECT max(k.cleaned_at AT TIME ZONE $1)::date FROM clean k JOIN line l ON l.id = k.line_id
           WHERE l.site_id = s.id AND k.withdrawn_at IS NULL
             AND NOT EXISTS (SELECT FROM line l WHERE l.site_id = s.id AND ${KNOWN_LINE})) AS "lastCleaned"
    FROM site s JOIN ${REF('site')} r ON r.id = s.id
    LEFT JOIN LATERAL (SELECT client_id FROM site_client WHERE site_id = s.id AND to_day IS NULL ORDER BY from_day DESC NULLS LAST, id LIMIT 1) o ON true
    LEFT JOIN client c ON c.id = o.client_id
   WHERE s.archived_on IS NULL ORDER BY s.id`;

const LINES = `
  SELECT r.ref AS "lineId", sr.ref AS "siteId", l.kind, l.main_material AS material, l.main_bore_mm AS "boreMm", l.length_m AS "lengthM",
         l.installed_on AS "installedOn", l.ferrous_iron_mg_l AS "ferrousIronMgL", l.action_limit AS threshold, l.outlet,
         CASE l.drains_to WHEN 'line' THEN dr.ref ELSE l.drains_to END AS "drainsTo", coalesce(n.condition, 'unknown') AS condition,
         l.perforated, l.wrapped, round((n.slope * 100)::numeric, 6)::float8 AS "slopePct"
    FROM line l JOIN ${REF('line')} r ON r.id = l.id JOIN ${REF('site')} sr ON sr.id = l.site_id
    LEFT JOIN ${REF('line')} dr ON dr.id = l.drains_to_line_id
    LEFT JOIN LATERAL (SELECT condition, slope FROM line_section WHERE line_id = l.id AND removed_on IS NULL
                        ORDER BY to_m - from_m DESC NULLS LAST, id LIMIT 1) n ON true
   WHERE ${KNOWN_LINE} AND EXISTS (SELECT FROM site s WHERE s.id = l.site_id AND s.archived_on IS NULL) ORDER BY l.id`;

/** Readings in force; and each clean that none of them tells of, as a row that says nothing was measured. */
const READINGS = `
  SELECT * FROM (
    SELECT r.ref AS "lineId", i.observed_at AS "observedAt", i.phase, i.method, coalesce((i.raw ->> 'share')::float8, i.occlusion) AS occlusion,
           i.plugged, i.plug_cause AS "plugCause", c.ref AS "crewId", i.deposit, i.note, i.distance_m AS "distanceM", i.id
      FROM inspection i JOIN ${REF('line')} r ON r.id = i.line_id LEFT JOIN ${REF('crew')} c ON c.id = i.crew_id
     WHERE i.withdrawn_at IS NULL AND i.replaced_at IS NULL AND (i.plugged OR i.occlusion IS NOT NULL)
    UNION ALL
    SELECT r.ref, k.cleaned_at, 'before_cleaning', NULL, NULL, false, NULL, c.ref, 'unknown', k.note, NULL, k.id
      FROM clean k JOIN ${REF('line')} r ON r.id = k.line_id LEFT JOIN ${REF('crew')} c ON c.id = k.crew_id
     WHERE k.withdrawn_at IS NULL AND NOT EXISTS (
             SELECT FROM inspection i WHERE i.line_id = k.line_id AND i.phase = 'before_cleaning' AND i.withdrawn_at IS NULL AND i.replaced_at IS NULL
                AND (i.plugged OR i.occlusion IS NOT NULL) AND i.observed_at BETWEEN k.cleaned_at - interval '12 hours' AND k.cleaned_at)
  ) found
   WHERE "lineId" IN (SELECT r.ref FROM line l JOIN ${REF('line')} r ON r.id = l.id
                       WHERE ${KNOWN_LINE} AND EXISTS (SELECT FROM site s WHERE s.id = l.site_id AND s.archived_on IS NULL))
   ORDER BY "observedAt", "lineId", id`;

/** Crews in use. The books hold one shift a crew: the one of most weekdays. */
const CREWS = `
  SELECT r.ref AS "crewId", w.name, d.name AS depot, d.latitude AS "depotLatitude", d.longitude AS "depotLongitude",
         ARRAY(SELECT DISTINCT k.kind FROM crew_kit ck JOIN kit_item k ON k.id = ck.kit_item_id
                WHERE ck.crew_id = w.id AND ck.to_day IS NULL AND k.archived_on IS NULL ORDER BY 1) AS kit,
         h.starts_at AS "shiftStart", h.ends_at AS "shiftEnd", h.weekdays, w.people, h.break_after AS "breakAfter", h.break_minutes AS "breakMinutes"
    FROM crew w JOIN ${REF('crew')} r ON r.id = w.id JOIN depot d ON d.id = w.depot_id
    JOIN LATERAL (SELECT starts_at, ends_at, break_after, break_minutes, array_agg(weekday ORDER BY array_position($1::text[], weekday)) AS weekdays
                    FROM shift WHERE crew_id = w.id AND to_day IS NULL
                   GROUP BY starts_at, ends_at, break_after, break_minutes ORDER BY count(*) DESC, starts_at LIMIT 1) h ON true
   WHERE w.archived_on IS NULL ORDER BY w.id`;

const WEEK = ['mon', 'tue', 'wed', 'thu', 'fri', 'sat', 'sun'];

/**
 * The client base as the books know it: sites, lines, readings, crews, all as of one instant.
 * What hangs on the service's own work (orders, routes, trends) is not in it: that is what a backup holds.
 *
 * @param zone IANA name of the business's time zone.
 */
export async function readBooks(pool: Pool, zone: string): Promise<ClientBase> {
  return inSnapshot(pool, async (client) => ({
    sites: await rows<SiteRow>(client, SITES, [zone]),
    lines: await rows<LineRow>(client, LINES),
    readings: (await rows<ReadingRow & { id: string }>(client, READINGS)).map(({ id: _, ...row }) => row),
    crews: await rows<CrewRow>(client, CREWS, [WEEK]),
  }));
}

async function rows<T>(client: PoolClient, text: string, values: unknown[] = []): Promise<T[]> {
  return (await client.query(text, values)).rows as T[];
}
