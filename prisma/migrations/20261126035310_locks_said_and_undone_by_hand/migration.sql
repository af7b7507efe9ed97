-- AlterTable
ALTER TABLE "plan" ADD COLUMN     "by_hand" JSONB;

-- AlterTable
ALTER TABLE "work_order" ADD COLUMN     "lock_because" TEXT,
ADD COLUMN     "lock_by" TEXT,
ADD COLUMN     "locked_at" TIMESTAMPTZ(3);

ALTER TABLE work_order ADD CONSTRAINT work_order_lock_said CHECK (
  (lock_by IS NULL) = (locked_at IS NULL) AND (lock_because IS NULL OR locked_at IS NOT NULL));
ALTER TABLE plan ADD CONSTRAINT plan_by_hand CHECK (by_hand IS NULL OR (scope IS NOT NULL AND by_hand ? 'workOrderId' AND by_hand ? 'before' AND by_hand ? 'after'));
