import { LOOKS_IN } from '../domain/work/lineStops.js';

const METHODS_THAT_DO = LOOKS_IN.map((method) => `'${method}'`).join(', ');

/** An inspection `i` in force that looked into its line as a stop in it asks for. */
export const LOOKED_IN = `
  (i.method IN (${METHODS_THAT_DO}) OR i.plug_seen_by IN (${METHODS_THAT_DO})) AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL`;

/**
 * What is known of the place of an order `o` that adds cautions or leaves some out: no_pump, enterable_pit,
 * sanitary_tie, hand_dig_mm, hard_stops in its lines with the last look by camera into each, silent_utilities.
 */
export const PLACE_CAUTIONS = `
  (EXISTS (SELECT FROM site h WHERE h.id = o.site_id AND h.basement = 'none')
    AND NOT EXISTS (SELECT FROM pit y WHERE y.site_id = o.site_id AND y.archived_on IS NULL)
    AND NOT EXISTS (SELECT FROM line z WHERE z.site_id = o.site_id AND z.kind = 'sump_discharge' AND z.archived_on IS NULL)) AS no_pump,
  EXISTS (SELECT FROM pit y WHERE y.site_id = o.site_id AND y.enterable AND y.archived_on IS NULL) AS enterable_pit,
  EXISTS (SELECT FROM line z
           WHERE z.site_id = o.site_id AND z.archived_on IS NULL AND z.outlet = 'sanitary_sewer'
             AND z.system_id IN (SELECT coalesce(kl.system_id, kp.system_id) FROM work_order_task k
                                   LEFT JOIN line kl ON kl.id = k.line_id LEFT JOIN pit kp ON kp.id = k.pit_id
                                  WHERE k.work_order_id = o.id)) AS sanitary_tie,
  (SELECT max(r.hand_dig_mm) FROM precondition p JOIN locate_ticket t ON t.id::text = p.facts->>'ticketId' JOIN locate_rule r ON r.id = t.rule_id
    WHERE p.work_order_id = o.id AND p.kind = 'locate_ticket') AS hand_dig_mm,
  (SELECT coalesce(jsonb_agg(jsonb_build_object('line', z.name, 'metAt', d.met_at, 'stoppedM', d.stopped_m,
            'lookedAt', (SELECT max(i.observed_at) FROM inspection i
                          WHERE i.line_id = d.line_id AND ${LOOKED_IN}))
            ORDER BY d.met_at), '[]')
     FROM danger d JOIN line z ON z.id = d.line_id
    WHERE d.kind = 'hard_stop' AND d.line_id IN (SELECT k.line_id FROM work_order_task k WHERE k.work_order_id = o.id)
      AND d.met_at >= coalesce((SELECT max(e.started_on)::timestamptz FROM epoch e WHERE e.line_id = d.line_id), '-infinity')) AS hard_stops,
  (SELECT jsonb_agg(u->>'name' ORDER BY i) FROM precondition p JOIN locate_ticket t ON t.id::text = p.facts->>'ticketId', jsonb_array_elements(t.utilities) WITH ORDINALITY AS e (u, i)
    WHERE p.work_order_id = o.id AND p.kind = 'locate_ticket' AND t.emergency_because IS NOT NULL AND u->>'answer' = 'none') AS silent_utilities`;
