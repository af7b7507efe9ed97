-- AlterTable
ALTER TABLE "proposal" ADD COLUMN     "work_order_id" UUID;

-- CreateTable
CREATE TABLE "erasure" (
    "id" UUID NOT NULL,
    "person" TEXT NOT NULL,
    "person_id" UUID NOT NULL,
    "asked_on" DATE NOT NULL,
    "photographs" BOOLEAN NOT NULL,
    "erased" JSONB NOT NULL,
    "kept" JSONB NOT NULL,
    "done_by" TEXT NOT NULL,
    "done_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "erasure_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "erasure_done_at_idx" ON "erasure"("done_at");

-- CreateIndex
CREATE INDEX "proposal_work_order_id_idx" ON "proposal"("work_order_id");

-- AddForeignKey
ALTER TABLE "proposal" ADD CONSTRAINT "proposal_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- Alarms and second pumps are fitted: two more kinds of task.
ALTER TABLE clean DROP CONSTRAINT clean_task_word, ADD CONSTRAINT clean_task_word CHECK (task IN ('survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore', 'fit_alarm', 'fit_pump'));
ALTER TABLE work_order_task DROP CONSTRAINT work_order_task_kind_word, ADD CONSTRAINT work_order_task_kind_word CHECK (kind IN ('survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore', 'fit_alarm', 'fit_pump'));
ALTER TABLE decision DROP CONSTRAINT decision_task_word, ADD CONSTRAINT decision_task_word CHECK (task IN ('survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore', 'fit_alarm', 'fit_pump'));
ALTER TABLE closed_season DROP CONSTRAINT closed_season_tasks_word, ADD CONSTRAINT closed_season_tasks_word CHECK (tasks <@ ARRAY['survey', 'inspect', 'test_pump', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'replace_outlet', 'cable', 'trace', 'temporary_pump', 'dig_and_replace', 'add_cleanout', 'restore', 'fit_alarm', 'fit_pump']);

ALTER TABLE proposal ADD CONSTRAINT proposal_work CHECK (work_order_id IS NULL OR state = 'accepted');
ALTER TABLE erasure ADD CONSTRAINT erasure_person_word CHECK (person IN ('client', 'contact', 'caller'));

-- What was found stays as it was found; only a person's data that is erased may leave its words.
CREATE OR REPLACE FUNCTION inspection_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF current_setting('app.erasing', true) = 'yes' THEN
    IF (NEW.line_id, NEW.pit_id, NEW.observed_at, NEW.received_at, NEW.crew_id, NEW.phase, NEW.method, NEW.occlusion, NEW.standard_error, NEW.plugged)
       IS NOT DISTINCT FROM (OLD.line_id, OLD.pit_id, OLD.observed_at, OLD.received_at, OLD.crew_id, OLD.phase, OLD.method, OLD.occlusion, OLD.standard_error, OLD.plugged) THEN
      RETURN NEW;
    END IF;
  END IF;
  IF (NEW.line_id, NEW.pit_id, NEW.observed_at, NEW.received_at, NEW.author, NEW.crew_id, NEW.phase, NEW.method, NEW.raw, NEW.plugged)
     IS DISTINCT FROM (OLD.line_id, OLD.pit_id, OLD.observed_at, OLD.received_at, OLD.author, OLD.crew_id, OLD.phase, OLD.method, OLD.raw, OLD.plugged) THEN
    RAISE EXCEPTION 'an inspection is never edited: replace or withdraw it' USING ERRCODE = 'check_violation', CONSTRAINT = 'inspection_stays';
  END IF;
  RETURN NEW;
END $$;
