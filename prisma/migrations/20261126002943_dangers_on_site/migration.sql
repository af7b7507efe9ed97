-- CreateTable
CREATE TABLE "danger" (
    "id" UUID NOT NULL,
    "work_order_id" UUID NOT NULL,
    "line_id" UUID,
    "kind" TEXT NOT NULL,
    "met_at" TIMESTAMPTZ(3) NOT NULL,
    "stopped_m" DOUBLE PRECISION,
    "note" TEXT,
    "author" TEXT NOT NULL,
    "author_id" UUID NOT NULL,
    "version" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "danger_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "danger_line_id_idx" ON "danger"("line_id");

-- CreateIndex
CREATE INDEX "danger_work_order_id_idx" ON "danger"("work_order_id");

-- AddForeignKey
ALTER TABLE "danger" ADD CONSTRAINT "danger_work_order_id_fkey" FOREIGN KEY ("work_order_id") REFERENCES "work_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "danger" ADD CONSTRAINT "danger_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "line"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

ALTER TABLE danger ADD CONSTRAINT danger_kind_word CHECK (kind IN ('hard_stop', 'gas_smell', 'gas_meter'));
ALTER TABLE danger ADD CONSTRAINT danger_hard_stop_line CHECK (kind <> 'hard_stop' OR line_id IS NOT NULL);
ALTER TABLE danger ADD CONSTRAINT danger_stopped CHECK (stopped_m >= 0);

-- Gas ends a visit, and comes by sync like anything else a crew says.
ALTER TABLE work_order_task DROP CONSTRAINT work_order_task_reason_word;
ALTER TABLE work_order_task ADD CONSTRAINT work_order_task_reason_word CHECK (reason IN ('no_one_home', 'gate', 'dog', 'snow', 'outlet_not_found', 'refused', 'unsafe', 'kit', 'water_off', 'out_of_time', 'gas'));
ALTER TABLE attempt DROP CONSTRAINT attempt_reason_word;
ALTER TABLE attempt ADD CONSTRAINT attempt_reason_word CHECK (reason IN ('no_one_home', 'gate', 'dog', 'snow', 'outlet_not_found', 'refused', 'unsafe', 'kit', 'water_off', 'out_of_time', 'gas'));
ALTER TABLE task_result DROP CONSTRAINT task_result_reason_word;
ALTER TABLE task_result ADD CONSTRAINT task_result_reason_word CHECK (reason IN ('no_one_home', 'gate', 'dog', 'snow', 'outlet_not_found', 'refused', 'unsafe', 'kit', 'water_off', 'out_of_time', 'gas'));
ALTER TABLE sync_item DROP CONSTRAINT sync_item_kind_word;
ALTER TABLE sync_item ADD CONSTRAINT sync_item_kind_word CHECK (kind IN ('start', 'finish', 'inspection', 'clean', 'task_result', 'found_work', 'found_line', 'found_access_point', 'price_acceptance', 'attachment', 'note', 'on_the_way', 'running_late', 'danger'));

CREATE TRIGGER danger_version BEFORE UPDATE ON danger FOR EACH ROW EXECUTE FUNCTION bump_version();
CREATE TRIGGER danger_log_insert AFTER INSERT ON danger REFERENCING NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change();
CREATE TRIGGER danger_log_update AFTER UPDATE ON danger REFERENCING OLD TABLE AS gone NEW TABLE AS come FOR EACH STATEMENT EXECUTE FUNCTION log_change();
CREATE TRIGGER danger_log_delete AFTER DELETE ON danger REFERENCING OLD TABLE AS gone FOR EACH STATEMENT EXECUTE FUNCTION log_change();
