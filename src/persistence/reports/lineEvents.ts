/**
 * What happened to the lines of a CTE `asked`, cut into stretches: every clean, and every pipe that was new, begins
 * one. Stretch 0 lies before the first. The reading before a clean belongs to the stretch it ends, the one after to
 * the stretch it begins. Gives the CTEs `happened` and `numbered`.
 */
export const NUMBERED_EVENTS = `
  happened AS (
    SELECT i.line_id, i.observed_at AS at, CASE i.phase WHEN 'after_cleaning' THEN 2 ELSE 0 END AS turn, i.id, false AS begins, i.phase, i.method, i.occlusion, i.bound,
           i.plugged AND coalesce(i.plug_cause, 'unknown') IN ('deposit', 'unknown') AS fouled_shut, NULL::uuid AS crew_id, NULL::text AS task, NULL::text AS flow_proven
      FROM inspection i JOIN asked a ON a.id = i.line_id LEFT JOIN reading_review r ON r.inspection_id = i.id
     WHERE i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND coalesce(r.verdict, 'open') <> 'dismissed'
    UNION ALL
    SELECT c.line_id, c.cleaned_at, 1, c.id, true, NULL, NULL, NULL, NULL, false, c.crew_id, c.task, c.flow_proven
      FROM clean c JOIN asked a ON a.id = c.line_id WHERE c.withdrawn_at IS NULL
    UNION ALL
    SELECT e.line_id, e.started_on::timestamptz, 1, e.id, true, NULL, NULL, NULL, NULL, false, NULL, 'new_pipe', NULL
      FROM epoch e JOIN asked a ON a.id = e.line_id WHERE e.begins = 'clean'),
  numbered AS (
    SELECT *, count(*) FILTER (WHERE begins) OVER (PARTITION BY line_id ORDER BY at, turn, id ROWS UNBOUNDED PRECEDING) AS stretch FROM happened)`;
