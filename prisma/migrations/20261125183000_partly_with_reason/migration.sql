-- Work partly done says why the rest was left; not done always does.
ALTER TABLE attempt DROP CONSTRAINT attempt_ends;
ALTER TABLE attempt ADD CONSTRAINT attempt_ends CHECK (
  (result IS NULL) = (ended_at IS NULL) AND (reason IS NULL OR result IN ('not_done', 'partly')) AND (result <> 'not_done' OR reason IS NOT NULL)
  AND ended_at >= started_at);
