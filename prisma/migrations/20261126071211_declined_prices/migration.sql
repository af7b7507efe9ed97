-- AlterTable
ALTER TABLE "work_order_task" ADD COLUMN     "declined_at" TIMESTAMPTZ(3),
ADD COLUMN     "declined_by" TEXT;

ALTER TABLE work_order_task ADD CONSTRAINT work_order_task_price_answer CHECK (
  (declined_by IS NULL) = (declined_at IS NULL) AND (accepted_at IS NULL OR declined_at IS NULL));
