/** What is said of each event beside its line, moment and whether it begins a stretch: a list of columns each. */
export interface EventColumns {
  /** Of a reading `i` of a line `s`, each with its name. */
  seen: readonly string[];
  /** The same columns of a clean `c` and of a new pipe. */
  clean: string;
  newPipe: string;
  /** Only events from this day on; absent: all. */
  since?: string;
}

/**
 * Of a reading `i` with its review `r`: whether it is counted. What waits for a judgement is not, but for a line found
 * plugged: leaving those out would hide just the plugs nobody expected.
 */
const BELIEVED = `r.verdict IS NULL OR r.verdict IN ('confirmed', 'settled') OR (i.plugged AND r.verdict = 'open')`;

/**
 * What happened to the lines of a CTE `asked`, cut into stretches: every clean, and every pipe that was new, begins
 * one. Stretch 0 lies before the first. The reading before a clean belongs to the stretch it ends, the one after to
 * the stretch it begins. Gives the CTEs `short` (lines by a number, with the limits of their trends and the day they were given up; small, since all
 * events are sorted by it), `happened` and `numbered`.
 */
export function numberedEvents({ seen, clean, newPipe, since }: EventColumns): string {
  const late = (column: string) => (since === undefined ? '' : ` AND ${column} >= ${since}`);
  return `
  short AS MATERIALIZED (
    SELECT row_number() OVER ()::int AS n, a.id, a.archived_on, t.action_limit, t.plug_limit FROM asked a LEFT JOIN trend t ON t.line_id = a.id),
  happened AS (
    SELECT s.n, i.observed_at AS at, CASE i.phase WHEN 'after_cleaning' THEN 2 ELSE 0 END AS turn, i.id, false AS begins, ${seen.join(', ')}
      FROM inspection i JOIN short s ON s.id = i.line_id LEFT JOIN reading_review r ON r.inspection_id = i.id
     WHERE i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND (${BELIEVED})${late('i.observed_at')}
    UNION ALL
    SELECT s.n, c.cleaned_at, 1, c.id, true, ${clean} FROM clean c JOIN short s ON s.id = c.line_id WHERE c.withdrawn_at IS NULL${late('c.cleaned_at')}
    UNION ALL
    SELECT s.n, e.started_on::timestamptz, 1, e.id, true, ${newPipe} FROM epoch e JOIN short s ON s.id = e.line_id WHERE e.begins = 'clean'${late('e.started_on')}),
  numbered AS (
    SELECT *, (count(*) FILTER (WHERE begins) OVER (PARTITION BY n ORDER BY at, turn, id ROWS UNBOUNDED PRECEDING))::int AS stretch FROM happened)`;
}
