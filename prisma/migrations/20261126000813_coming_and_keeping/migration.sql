-- AlterTable
ALTER TABLE "change_life" ADD COLUMN     "gone_seq" BIGINT NOT NULL DEFAULT 0,
ADD COLUMN     "gone_xact" BIGINT NOT NULL DEFAULT 0;

-- CreateIndex
CREATE INDEX "change_log_at_idx" ON "change_log" USING BRIN ("at");

-- CreateIndex
CREATE INDEX "sync_item_work_order_id_happened_at_idx" ON "sync_item"("work_order_id", "happened_at");


ALTER TABLE sync_item DROP CONSTRAINT sync_item_kind_word;
ALTER TABLE sync_item ADD CONSTRAINT sync_item_kind_word CHECK (kind IN ('start', 'finish', 'inspection', 'clean', 'task_result', 'found_work', 'found_line', 'found_access_point', 'price_acceptance', 'attachment', 'note', 'on_the_way', 'running_late'));
