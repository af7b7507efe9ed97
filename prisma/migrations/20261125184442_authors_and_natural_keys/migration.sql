-- AlterTable
ALTER TABLE "clean" ADD COLUMN     "author_id" UUID;

-- AlterTable
ALTER TABLE "inspection" ADD COLUMN     "author_id" UUID;

-- One look at one thing at one moment is one inspection, one cleaning one clean, whoever sends it and however often.
UPDATE inspection SET withdrawn_at = now(), withdrawn_because = 'stored twice'
 WHERE id IN (SELECT id FROM (
   SELECT id, row_number() OVER (PARTITION BY coalesce(line_id, pit_id), observed_at, phase, method, place, distance_m ORDER BY received_at, id) AS copy
     FROM inspection WHERE replaced_at IS NULL AND withdrawn_at IS NULL) c WHERE copy > 1);
UPDATE clean SET withdrawn_at = now(), withdrawn_because = 'stored twice'
 WHERE id IN (SELECT id FROM (
   SELECT id, row_number() OVER (PARTITION BY coalesce(line_id, pit_id), cleaned_at ORDER BY received_at, id) AS copy
     FROM clean WHERE withdrawn_at IS NULL) c WHERE copy > 1);
DROP INDEX inspection_natural_key;
CREATE UNIQUE INDEX inspection_natural_key ON inspection
  (coalesce(line_id, pit_id), observed_at, phase, coalesce(method, ''), coalesce(place, ''), coalesce(distance_m, -1))
  WHERE replaced_at IS NULL AND withdrawn_at IS NULL;
DROP INDEX clean_natural_key;
CREATE UNIQUE INDEX clean_natural_key ON clean (coalesce(line_id, pit_id), cleaned_at) WHERE withdrawn_at IS NULL;

-- From before to. What is there already is left as it is; whoever changes it puts it right.
ALTER TABLE line_section ADD CONSTRAINT line_section_life CHECK (installed_on <= removed_on);
ALTER TABLE pump ADD CONSTRAINT pump_life CHECK (installed_on <= removed_on) NOT VALID;
ALTER TABLE site_client ADD CONSTRAINT site_client_days CHECK (from_day <= to_day);
ALTER TABLE crew_membership ADD CONSTRAINT crew_membership_days CHECK (from_day <= to_day);
ALTER TABLE crew_kit ADD CONSTRAINT crew_kit_days CHECK (from_day <= to_day);
ALTER TABLE shift ADD CONSTRAINT shift_days CHECK (from_day <= to_day);
ALTER TABLE care_terms ADD CONSTRAINT care_terms_days CHECK (from_day <= to_day) NOT VALID;
ALTER TABLE precondition ADD CONSTRAINT precondition_days CHECK (valid_from <= valid_to) NOT VALID;
ALTER TABLE promise ADD CONSTRAINT promise_times CHECK (from_time < to_time) NOT VALID;
ALTER TABLE decision ADD CONSTRAINT decision_until CHECK (kind <> 'postponement' OR until_day IS NOT NULL) NOT VALID;
ALTER TABLE decision ADD CONSTRAINT decision_days CHECK (decided_on <= until_day) NOT VALID;
