/** What is known of the place of an order `o` that adds cautions or leaves some out: no_pump, enterable_pit, sanitary_tie, hand_dig_mm. */
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
    WHERE p.work_order_id = o.id AND p.kind = 'locate_ticket') AS hand_dig_mm`;
