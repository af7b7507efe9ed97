-- What a doubted reading holds, and how urgent it is to judge it: those that hold a date first, then others of the
-- running cycle and the last, then older ones; judged ones last; of each the fullest first.
CREATE OR REPLACE VIEW review_list AS
  SELECT r.inspection_id AS id, r.line_id, l.name AS line_name, l.kind AS line_kind, s.id AS site_id, s.address, i.observed_at, i.author, i.phase, i.method,
         i.occlusion, CASE r.verdict WHEN 'confirmed' THEN 1::double precision WHEN 'dismissed' THEN 0::double precision ELSE r.weight END AS weight,
         r.suspicion, r.verdict, r.decided_by, r.decided_at,
         CASE WHEN named.holds_date THEN t.due_on END AS holds_due_on,
         (CASE WHEN r.verdict <> 'open' THEN 0 WHEN named.holds_date THEN 6 WHEN named.holds_date IS NOT NULL THEN 4 ELSE 2 END
           + coalesce(i.occlusion, 0))::double precision AS urgency
    FROM reading_review r JOIN inspection i ON i.id = r.inspection_id JOIN line l ON l.id = r.line_id JOIN site s ON s.id = l.site_id
    LEFT JOIN trend t ON t.line_id = r.line_id AND r.verdict = 'open'
    LEFT JOIN LATERAL (
      SELECT bool_or((e -> 'facts' ->> 'holdsDate')::boolean) AS holds_date FROM jsonb_array_elements(t.due_reasons) e
       WHERE e ->> 'code' = 'doubted_reading' AND e -> 'facts' ->> 'inspectionId' = r.inspection_id::text) named ON true
   WHERE i.replaced_at IS NULL AND i.withdrawn_at IS NULL;
